"""The template head where the benches keep it, solved once for all tests."""

import fcntl
from pathlib import Path

import pytest

from aftersit.bench import heads
from aftersit.head.model import Head, build_head, load_head, save_head
from aftersit.settings import load_settings


@pytest.fixture(scope="session")
def head(tmp_path_factory, worker_id) -> Head:
    """The file that all test processes share, under the name that the head's tests use too."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder if worker_id == "master" else folder.parent
    path = folder / "head.npz"
    with (folder / "head.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            save_head(build_head(load_settings(heads.LABEL).head), path)
    return load_head(path)


@pytest.fixture(scope="session", autouse=True)
def kept(head, tmp_path_factory) -> Path:
    """The benches' folder, with the template head in it."""
    folder = tmp_path_factory.mktemp("bench")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(heads, "FOLDER", folder)
        save_head(head, heads.template_file())
        yield folder
