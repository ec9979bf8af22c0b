"""Invented courses of sittings for tests of the progress page."""

import datetime as dt

import samples
from sample_given import PROTOCOL, protocol

from aftersit.pages.counted import why_not_counted
from aftersit.pages.progress_inputs import ProgressInputs, Sitting
from aftersit.sheet import Practice
from aftersit.yardstick.measure import Level, Measured
from aftersit.yardstick.rules import yardstick

SHARES = (0.12, 0.19, 0.27, 0.36, 0.48, 0.55)


def measured(share: float) -> Measured:
    names = [c["name"] for c in PROTOCOL["conditions"]]
    return Measured(
        share=share,
        low=share - 0.07,
        high=share + 0.09,
        bouts=23,
        longest_s=4 + 30 * share,
        known_s=497.5,
        levels={n: Level(3 * share + i, 3 * share + i - 0.8, None if i else 3 * share + 0.8)
                for i, n in enumerate(names)},
    )  # fmt: skip


def course(shares=SHARES, records=None, clinic=None, used=None) -> ProgressInputs:
    base = samples.scored()
    record = base.replays[0].record
    found = [record.model_copy(update={"sitting": i}) for i in range(1, len(shares) + 1)]
    found = records or found
    usual = frozenset(record.quality.good_electrodes)
    sittings = tuple(
        Sitting(
            number=i,
            revision=1,
            date=dt.date(2026, 2, 3) + dt.timedelta(weeks=i),
            settings="s1",
            own=(one,),
            record=one,
            measured=measured(share) if one.status == "scored" else None,
            why_not=why_not_counted(one, usual),
        )
        for i, (share, one) in enumerate(zip(shares, found, strict=True), 1)
    )
    used = used or protocol()
    return ProgressInputs("K07", clinic or base.clinic, used, yardstick(used), sittings)


def mixed() -> ProgressInputs:
    """One sitting that was not scored, one with other electrodes, one adaptive, two protocols."""
    record = samples.scored().replays[0].record
    few = record.quality.model_copy(update={"good_electrodes": record.quality.good_electrodes[:-3]})
    adaptive = record.conditions[0].model_copy(
        update={
            "rule": "adaptive", "rule_value": 0.7, "speed_db_per_min": 1.5,
            "start_rule": "db-over-baseline", "start_value": 1.0,
        }
    )  # fmt: skip
    moving = {
        "conditions": (adaptive, *record.conditions[1:]),
        "practice": Practice.OPEN_MONITORING,
    }
    records = [
        record,
        samples.not_scored().replays[0].record,
        record.model_copy(update={"quality": few}),
        record.model_copy(update=moving),
    ]
    return course(SHARES[:4], records)
