import datetime as dt
import os
import time

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
        (1, "last good night: 2026-03-14 02:20, 1 hour ago"),
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


@pytest.mark.parametrize("failed_before", [False, True])
@pytest.mark.parametrize("newer", ["clinic.yaml", "inbox/a"])
@pytest.mark.parametrize(("hours", "missing"), [(29, ""), (30, "; A NIGHT IS MISSING")])
def test_before_the_first_good_night(clinic, failed_before, newer, hours, missing):
    """A new clinic has a day; then its first night is missing, also if all so far failed.

    A moment more than these hours after the older of settings and upload came here, and
    less after the newer one; times of change that an upload brings along don't count.
    """
    both = [clinic.settings_file, clinic.inbox / "a"]
    both[1].mkdir()
    time.sleep(0.05)
    os.utime(clinic.root / newer, (7e8, 7e8))
    times_s = sorted(path.stat().st_ctime for path in both)
    now_s = sum(times_s) / 2 + hours * 3600
    if failed_before:
        note_night(clinic, dt.datetime.fromtimestamp(now_s - 3 * 3600, dt.UTC), 4)
    told = describe(clinic, dt.datetime.fromtimestamp(now_s, VIENNA))
    assert told[0] == f"last good night: none yet{missing}"
