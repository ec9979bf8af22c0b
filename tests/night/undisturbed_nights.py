"""A night that nothing disturbs, for tests of what does, or of other ways of running."""

import os
import shutil
import time

import pytest
from nights import make_models, make_start, results, run_night

from aftersit.clinic import Clinic


@pytest.fixture(scope="session")
def undisturbed(tmp_path_factory):
    """A clinic before its first night, the same after it, and what the night took."""
    folder = tmp_path_factory.mktemp("nights")
    start = make_start(folder / "start")
    before = os.umask(0o077)  # as the night makes them
    make_models(start)
    os.umask(before)
    shutil.copytree(start.root, folder / "done")
    began = time.monotonic()
    code, said = run_night(folder / "done")
    took_s = time.monotonic() - began
    assert code == 3, said
    return Undisturbed(start.root, folder / "done", results(Clinic(folder / "done")), took_s)


class Undisturbed:
    """Folders to copy, results to compare with, and seconds."""

    def __init__(self, start, done, made, took_s):
        self.start, self.done, self.made, self.took_s = start, done, made, took_s

    def begin(self, root) -> Clinic:
        """A fresh clinic before its first night."""
        shutil.copytree(self.start, root)
        return Clinic(root)

    def end(self, root) -> Clinic:
        """A fresh copy of the clinic after its night."""
        shutil.copytree(self.done, root)
        return Clinic(root)
