"""Every kind of bad or odd upload, in one night of one clinic: expected and got."""

import os
from dataclasses import replace

import pytest
from bad_uploads import CASES, TAKEN
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.names import shown
from aftersit.night.contents import contents
from aftersit.night.run import receiver
from aftersit.night.session import at_work

LONGEST_S = 20


@pytest.fixture(scope="module")
def clinic(tmp_path_factory) -> Clinic:
    return Clinic(make_clinic(tmp_path_factory.mktemp("bad") / "clinic"))


@pytest.fixture(scope="module")
def brought(clinic) -> dict[str, dict]:
    """What each upload held, by the name of its folder."""
    for case in CASES:
        folder = clinic.inbox / case.name
        folder.mkdir()
        case.make(folder)
    return {case.name: contents(clinic.inbox / case.name) for case in CASES}


@pytest.fixture(scope="module")
def got(clinic, brought) -> dict[str, str]:
    """What became of each upload, in the words of the table."""
    made = receiver(clinic)
    limits = {"settle_s": 0, "check_seconds": LONGEST_S}
    made = replace(made, night=made.night.model_copy(update=limits))
    with at_work(clinic):
        arrivals = made.receive()
    codes = {n: " ".join(p.code for p in problems) for n, problems in arrivals.set_aside.items()}
    return dict.fromkeys(arrivals.received, TAKEN) | codes


@pytest.mark.parametrize("case", CASES, ids=lambda c: shown(c.name)[:60])
def test_upload(case, got):
    assert got[shown(case.name)] == case.expected


def test_there_are_enough_and_all_are_told(got):
    assert len(CASES) == len(got) >= 80
    assert not any("check-" in codes for codes in got.values())


def test_the_inbox_is_empty_and_no_byte_is_lost(clinic, brought, got):
    assert list(clinic.inbox.iterdir()) == []
    kept = [contents(p) for p in (clinic.root / "originals").glob("*/*/*")]
    for name, came in brought.items():
        if got[shown(name)] == TAKEN:
            assert came in kept, name
            continue
        folder = clinic.set_aside / name
        inside = folder / name  # what was no folder has got one
        there = contents(inside if os.path.lexists(inside) else folder)
        assert came.items() <= there.items(), name


def test_each_says_what_to_do(clinic, got):
    for folder in clinic.set_aside.iterdir():
        text = (folder / "why.txt").read_text()
        assert "To do:" in text
        assert "Traceback" not in text


def test_nothing_was_touched_outside(clinic):
    assert not (clinic.root.parent / "hurt").exists()
    assert sorted(p.name for p in clinic.root.iterdir()) == [
        ".aftersit", "clinic.yaml", "inbox", "originals", "protocols", "set-aside",
    ]  # fmt: skip
