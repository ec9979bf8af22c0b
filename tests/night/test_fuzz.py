"""A fuzzed inbox: no traceback, no hang, no byte lost, and never another upload's failure.

Quick: some; slow: all. `AFTERSIT_FUZZ` changes how many the slow test takes.
"""

import os
import shutil
import time
from dataclasses import replace

import pytest
from fuzz import FORMATS, all_spoilt, make_valid, spoil
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.night.contents import contents
from aftersit.night.run import receiver
from aftersit.night.session import at_work

QUICK = 60
SLOW = int(os.environ.get("AFTERSIT_FUZZ", "2000"))
AT_ONCE = 50
LONGEST_S = 20


@pytest.fixture(autouse=True)
def _no_waiting_for_disks(monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda descriptor: None)


@pytest.fixture(scope="module")
def valid(tmp_path_factory):
    return make_valid(tmp_path_factory.mktemp("valid"))


def receive(clinic: Clinic):
    made = receiver(clinic)
    limits = {"settle_s": 0, "check_seconds": LONGEST_S}
    with at_work(clinic):
        return replace(made, night=made.night.model_copy(update=limits)).receive()


def fuzz(root, valid, spoilt) -> dict[str, int]:
    """Send these in one night; returns how many ended in which way."""
    clinic = Clinic(make_clinic(root))
    settings = clinic.settings_file.read_text()
    clinic.settings_file.write_text(settings + "annotations: {practising: practice}\n")
    came = {}
    for one in spoilt:
        folder = clinic.inbox / one.name
        spoil(valid[one.form], one, folder)
        came[one.name] = contents(folder)
    arrivals = receive(clinic)
    assert list(clinic.inbox.iterdir()) == []
    originals = [contents(p) for p in (clinic.root / "originals").glob("*/*/*")]
    for name, files in came.items():
        if name in arrivals.set_aside:
            assert files.items() <= contents(clinic.set_aside / name).items(), name
        else:
            assert files in originals, name  # received, or the same bytes as another
    codes = {n: [p.code for p in problems] for n, problems in arrivals.set_aside.items()}
    bad = {n: c for n, c in codes.items() if any(code.startswith("check-") for code in c)}
    assert bad == {}
    return {"taken": len(came) - len(codes), "set aside": len(codes)}


def test_the_unspoilt_are_taken(tmp_path, valid):
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    with clinic.settings_file.open("a") as file:
        file.write("annotations: {practising: practice}\n")
    for form, folder in valid.items():
        shutil.copytree(folder, clinic.inbox / form)
    assert set(receive(clinic).received) == set(FORMATS)


def test_some_spoilt_uploads(tmp_path, valid):
    ended = fuzz(tmp_path / "clinic", valid, all_spoilt(QUICK))
    assert min(ended.values()) > QUICK / 10, ended


@pytest.mark.slow
def test_all_spoilt_uploads(tmp_path, valid):
    began = time.monotonic()
    total = {"taken": 0, "set aside": 0}
    for first in range(QUICK, QUICK + SLOW, AT_ONCE):
        ended = fuzz(tmp_path / "clinic", valid, all_spoilt(AT_ONCE, first))
        total = {way: count + ended[way] for way, count in total.items()}
        shutil.rmtree(tmp_path / "clinic")
    print(f"{sum(total.values())} spoilt uploads: {total}, {time.monotonic() - began:.0f} s")
    assert sum(total.values()) >= SLOW
