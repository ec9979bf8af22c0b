import datetime as dt
import shutil
from collections import namedtuple

import pytest

from aftersit.clinic import Clinic
from aftersit.night.disk import needed_mb, without_those_too_large
from aftersit.night.ledger import Entry, Revision
from aftersit.night.plan import plan_of
from aftersit.night.settings import load_night_settings

NIGHT = load_night_settings().model_copy(
    update={"disk_per_sitting_mb": 12, "disk_per_recorded_mb": 8, "disk_reserve_mb": 200}
)
Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def plan(tmp_path):
    """Three sittings with recordings of 3, 40 and 5 MB."""
    entries = []
    for number, size_mb in ((1, 3), (2, 40), (3, 5)):
        entry = Entry(
            client="K07",
            number=number,
            date=dt.date(2026, 3, 14),
            recording_sha256=f"{number}",
            revisions=[Revision(number=1, upload="u", sheet_sha256="x")],
            protocols={"warm-heart": 2},
            settings="s1",
        )
        folder = Clinic(tmp_path).original(entry.sitting, 1)
        folder.mkdir(parents=True)
        with (folder / "rec.edf").open("wb") as file:
            file.truncate(size_mb * 10**6)
        entries.append(entry)
    return plan_of(entries)


def test_the_need_grows_with_the_recording(plan, tmp_path):
    need = [needed_mb(Clinic(tmp_path), one, NIGHT) for one in plan.sittings]
    assert need == [36, 332, 52]


def test_sittings_that_do_not_fit_are_left_for_later_with_the_reason(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**9, 0, 310 * 10**6))
    fits, (outcome,) = without_those_too_large(Clinic(tmp_path), plan, NIGHT)
    assert [one.number for one in fits.sittings] == [1, 3]
    assert (outcome.planned.number, outcome.failed_stage) == (2, "disk")
    assert "may need 332 MB; 310 MB were free and 200 MB of them stay free" in outcome.reason
