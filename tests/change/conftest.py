import shutil

import pytest
from small_archive import make_archive

from aftersit.clinic import Clinic


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """Six sittings of three clients, finished under version 1."""
    return make_archive(tmp_path_factory.mktemp("archive") / "clinic").root


@pytest.fixture
def clinic(made, tmp_path) -> Clinic:
    """A copy of it to change."""
    return Clinic(shutil.copytree(made, tmp_path / "clinic"))
