"""A stamp vouches for records and pages; one that can't is in the way of making them again."""

import datetime as dt
import hashlib

import pytest

from aftersit.clinic import Clinic
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.night.stamp import broken, drop_broken_stamps


@pytest.fixture
def stamped(tmp_path):
    one = PlannedSitting(
        client="K07",
        number=3,
        revision=2,
        date=dt.date(2026, 3, 14),
        protocols={"warm-heart": 4},
        settings="s1",
        received_settings="s1",
    )
    lines = []
    for name in (*one.records, *one.pages):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name)
        lines.append(f"{hashlib.sha256(name.encode()).hexdigest()}  {name}\n")
    stamp = tmp_path / one.stamp
    stamp.parent.mkdir(parents=True)
    stamp.write_text("".join(lines))
    return Clinic(tmp_path), one, stamp


def test_a_stamp_that_is_true_stays(stamped):
    clinic, one, stamp = stamped
    drop_broken_stamps(clinic, Plan(sittings=(one,)))
    assert broken(clinic, one) == []
    assert stamp.is_file()


def test_a_stamp_of_records_that_are_gone_goes(stamped):
    clinic, one, stamp = stamped
    (clinic.root / one.records[0]).unlink()
    drop_broken_stamps(clinic, Plan(sittings=(one,)))
    assert not stamp.exists()
