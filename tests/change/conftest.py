import shutil

import pytest
from small_archive import make_archive

from aftersit import algorithms
from aftersit.algorithms import AlgorithmVersion
from aftersit.clinic import Clinic


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """Six sittings of three clients, finished under version 1."""
    return make_archive(tmp_path_factory.mktemp("archive") / "clinic").root


@pytest.fixture
def clinic(made, tmp_path) -> Clinic:
    """A copy of it to change."""
    return Clinic(shutil.copytree(made, tmp_path / "clinic"))


@pytest.fixture
def second_algorithms(monkeypatch):
    """The program as it would be after its replay began to compute otherwise."""
    newer = AlgorithmVersion(number=2, stages=("replay",), changes="Bouts end one step later.")
    both = (*algorithms.versions(), newer)
    monkeypatch.setattr(algorithms, "versions", lambda: both)
