"""The template head where the benches keep it, solved once for all tests."""

from pathlib import Path

import pytest

from aftersit.bench import heads
from aftersit.head.model import Head, load_head, save_head
from shared_head import shared_head_file


@pytest.fixture(scope="session")
def head(tmp_path_factory, worker_id) -> Head:
    """As the analysis solves it."""
    return load_head(shared_head_file(tmp_path_factory, worker_id))


@pytest.fixture(scope="session", autouse=True)
def kept(head, tmp_path_factory) -> Path:
    """The benches' folder, with the template head in it."""
    folder = tmp_path_factory.mktemp("bench")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(heads, "FOLDER", folder)
        save_head(head, heads.template_file())
        yield folder
