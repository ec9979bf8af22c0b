"""What checks are given, with the template head that all tests share."""

import os
import warnings
from pathlib import Path

import pytest

from aftersit.evidence.given import Given
from aftersit.head.model import load_head
from shared_head import shared_head_file

REPOSITORY = Path(__file__).parents[2]


def open_folder() -> Path | None:
    """The open recordings, where they are there."""
    folder = Path(os.environ.get("AFTERSIT_OPEN_DATA", REPOSITORY.parent / "shared" / "data"))
    return folder if (folder / "mental-arithmetic").is_dir() else None


@pytest.fixture(scope="session")
def head(tmp_path_factory, worker_id):
    return load_head(shared_head_file(tmp_path_factory, worker_id))


@pytest.fixture(scope="session")
def given(head, tmp_path_factory) -> Given:
    made = Given(tmp_path_factory.mktemp("checks"), open_folder())
    made.head = head
    return made


@pytest.fixture(autouse=True)
def _quiet_libraries():
    """Libraries that checks hold us against may warn of themselves."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
