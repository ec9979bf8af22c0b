"""Advice: whether thresholds from one half of a steady sitting hold in the other."""

from collections.abc import Iterator, Sequence

import numpy as np

from aftersit.bench.case import Case
from aftersit.bench.replay_sittings import (
    as_sitting,
    protocol_of,
    settings,
    untouched,
)
from aftersit.bench.sittings import simulate
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.findings import Advice
from aftersit.replay.sitting import replay_sitting
from aftersit.sheet import Kind

SEED = 51300
SITTINGS, QUICK_SITTINGS = 40, 1
BLOCKS = (
    Block(1, Kind.BASELINE, 0.0, 60.0, "closed", "bench"),
    Block(2, Kind.PRACTICE, 60.0, 360.0, "closed", "bench"),
    Block(3, Kind.BREAK, 360.0, 380.0, "closed", "bench"),
    Block(4, Kind.PRACTICE, 380.0, 660.0, "closed", "bench"),
)
WHERE = (
    {"name": "front", "where": {"region": "superiorfrontal"}, "band_hz": (4, 8)},
    {"name": "back", "where": {"region": "precuneus"}, "band_hz": (8, 13)},
)


def advice_tables(quick: bool) -> Iterator[Table]:
    """Half-split check on steady simulated sittings."""
    n = QUICK_SITTINGS if quick else SITTINGS
    rows = [_row(words, conditions, n) for words, conditions in _protocols()]
    yield Table(
        "advice",
        "Thresholds advised from one half of a steady sitting: the rate in the other half",
        rows,
        (
            f"{n} simulated sittings of other heads a row, nothing but background and its own "
            f"waxing, 5 and 4.7 minutes of practice; both ways counted; seed {SEED}.",
            "within_10: halves in which the other half's thresholds came within 10 points.",
        ),
    )


def _protocols() -> list[tuple[str, list[dict]]]:
    above = [{**w, "direction": "above", "threshold": {"db_over_baseline": 0.5}} for w in WHERE]
    return [("theta alone", above[:1]), ("alpha alone", above[1:]), ("both", above)]


def _row(words: str, conditions: Sequence[dict], n: int) -> dict:
    target = settings().replay.insight.advice_target
    found = [_advice(SEED + s, conditions) for s in range(n)]
    rates = np.array([rate for a in found if a.halves for rate in a.halves])
    off = 100 * np.abs(rates - target)
    return {
        "protocol": words,
        "sittings": n,
        "refused": sum(bool(a.refused) for a in found),
        "target_percent": round(100 * target),
        "rate_mean_percent": round(100 * float(rates.mean()), 1) if len(rates) else None,
        "off_median_points": round(float(np.median(off)), 1) if len(rates) else None,
        "within_10_percent": round(100 * float((off <= 10).mean()), 1) if len(rates) else None,
    }


def _advice(seed: int, conditions: Sequence[dict]) -> Advice:
    case = Case.drawn(seed, minutes=11.0, rate_hz=128.0, eyes="closed")
    brain = simulate(case).brain
    protocol = protocol_of(*conditions)
    sitting = as_sitting(brain, untouched(brain, case.rate_hz), case.rate_hz, BLOCKS, protocol)
    replayed = replay_sitting(sitting, protocol, settings().replay, settings().seed)
    return replayed.record.insight.advice
