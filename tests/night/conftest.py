import shutil
import time

import pytest
from nights import make_start, results, run_night

from aftersit.clinic import Clinic
from aftersit.night.layout import HEAD


@pytest.fixture(scope="session")
def undisturbed(tmp_path_factory):
    """A clinic before its first night, the same after it, and what the night took."""
    folder = tmp_path_factory.mktemp("nights")
    start = make_start(folder / "start")
    shutil.copytree(start.root, folder / "head")
    code, said = run_night(folder / "head")  # builds the head, which all others take over
    assert code == 3, said
    head = HEAD.format(settings="s1")
    (start.root / head).parent.mkdir(parents=True)
    shutil.copy2(folder / "head" / head, start.root / head)
    shutil.copytree(start.root, folder / "done")
    began = time.monotonic()
    code, said = run_night(folder / "done")
    took_s = time.monotonic() - began
    assert code == 3, said
    made = results(Clinic(folder / "done"))
    assert made == results(Clinic(folder / "head"))
    return Undisturbed(start.root, folder / "done", made, took_s)


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
