import datetime as dt

import pytest
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.night.status import describe, note_night

VIENNA = dt.timezone(dt.timedelta(hours=1))
ENDED = dt.datetime(2026, 3, 14, 1, 20, tzinfo=dt.UTC)


@pytest.fixture
def clinic(tmp_path):
    return Clinic(make_clinic(tmp_path / "clinic"))


def said(clinic, hours: float) -> list[str]:
    return describe(clinic, (ENDED + dt.timedelta(hours=hours)).astimezone(VIENNA))


@pytest.mark.parametrize(
    ("hours", "line"),
    [
        (7, "last good night: 2026-03-14 02:20, 7 hours ago"),
        (31, "last good night: 2026-03-14 02:20, 31 hours ago; A NIGHT IS MISSING"),
        (-1, "last good night: 2026-03-14 02:20, 0 hours ago"),
        (-8760, "last good night: 2026-03-14 02:20, which is still to come; the clock was changed"),
    ],
)
def test_the_age_of_the_last_good_night_is_told(clinic, hours, line):
    note_night(clinic, ENDED, 3)
    assert said(clinic, hours)[0] == line


def test_a_failed_night_does_not_hide_how_old_the_last_good_one_is(clinic):
    note_night(clinic, ENDED, 0)
    note_night(clinic, ENDED + dt.timedelta(hours=24), 4)
    assert said(clinic, 33)[:2] == [
        "last good night: 2026-03-14 02:20, 33 hours ago; A NIGHT IS MISSING",
        "last night: failed, 2026-03-15 02:20, 9 hours ago",
    ]


def test_before_the_first_night(clinic):
    assert said(clinic, 5)[0] == "last good night: none yet"
    note_night(clinic, ENDED, 4)
    assert said(clinic, 5)[0] == "last good night: none yet"
