"""The template head, solved once for all test processes."""

import fcntl
from pathlib import Path

import pytest

from aftersit.head.model import build_head, save_head
from aftersit.settings import load_settings


def shared_head_file(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """`head.npz`; test processes share one, since building it takes 11 s."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder if worker_id == "master" else folder.parent
    path = folder / "head.npz"
    with (folder / "head.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            save_head(build_head(load_settings("s1").head), path)
    return path
