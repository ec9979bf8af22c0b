"""What the replay costs, from arrays in memory; rescoring archives is in the bench `change`."""

import time
from collections.abc import Iterator

import numpy as np

from aftersit.bench.replay_sittings import (
    as_sitting,
    protocol_of,
    settings,
    untouched,
)
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.protocol import Protocol
from aftersit.replay.case import both_values, make_case
from aftersit.replay.sitting import replay_sitting
from aftersit.sheet import Kind

SEED = 51500
MINUTES, QUICK_MINUTES = 30, 3
RATE_HZ = 256.0
REPEATS, QUICK_REPEATS = 5, 2


def cost_tables(quick: bool) -> Iterator[Table]:
    """Both replays, and what they tell."""
    minutes, repeats = (QUICK_MINUTES, QUICK_REPEATS) if quick else (MINUTES, REPEATS)
    yield _in_memory(minutes, repeats)


def four_conditions(db: float = 0.2) -> Protocol:
    """Two regions and two groups of electrodes, at this many dB over baseline."""

    def condition(name, where, band_hz, direction, db):
        return {
            "name": name,
            "where": where,
            "band_hz": band_hz,
            "direction": direction,
            "threshold": {"db_over_baseline": db},
        }

    return protocol_of(
        condition("insula", {"region": "insula", "hemisphere": "right"}, (25, 42), "above", db),
        condition("back", {"region": "precuneus"}, (8, 13), "above", db),
        condition("front", {"electrodes": ["Fz"]}, (4, 8), "above", db),
        condition("jaw", {"electrodes": ["T7", "T8"]}, (30, 45), "below", 2.0),
    )


def blocks_of(minutes: float) -> tuple[Block, ...]:
    """A baseline and four practice blocks with breaks between."""
    edges = np.array([0, 2, 8, 8.5, 15, 15.5, 22, 22.5, 30]) * 60 * minutes / 30
    kinds = [Kind.BASELINE, *[Kind.PRACTICE, Kind.BREAK] * 3, Kind.PRACTICE]
    return tuple(
        Block(i, kind, float(a), float(b), "closed", "bench")
        for i, (kind, a, b) in enumerate(zip(kinds, edges, edges[1:], strict=False), 1)
    )


def noise_uv(minutes: float, number: int = 0) -> np.ndarray:
    """White noise of 10 uV; every number gives another."""
    rng = np.random.default_rng(SEED + number)
    return 10 * rng.standard_normal((19, round(minutes * 60 * RATE_HZ)))


def _in_memory(minutes: float, repeats: int) -> Table:
    signal, protocol, chosen = noise_uv(minutes), four_conditions(), settings()
    found = as_sitting(signal, untouched(signal, RATE_HZ), RATE_HZ, blocks_of(minutes), protocol)
    case = make_case(found, protocol, chosen.replay)
    both_s = _cpu_s(lambda: both_values(case), repeats)
    all_s = _cpu_s(lambda: replay_sitting(found, protocol, chosen.replay, chosen.seed), repeats)
    return Table(
        "cost",
        f"Processor seconds for {minutes} minutes of 19 electrodes at 256 Hz, 4 conditions",
        [
            {"what": "both replays", "cpu_s": round(both_s, 2)},
            {"what": "record, insight and muscle on top", "cpu_s": round(all_s - both_s, 2)},
        ],
        (f"Least of {repeats} runs in one process, imports aside; single-threaded.",),
    )


def _cpu_s(work, repeats: int) -> float:
    costs = []
    for _ in range(repeats):
        started = time.process_time()
        work()
        costs.append(time.process_time() - started)
    return min(costs)
