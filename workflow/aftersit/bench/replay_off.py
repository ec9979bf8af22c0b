"""What was higher while the reward stayed off: false alarms and power, and open rest recordings."""

from collections.abc import Iterator
from itertools import permutations, product

import numpy as np
from scipy import stats

from aftersit.bench.heads import LABEL
from aftersit.bench.open_recordings import OpenRecording, open_recordings
from aftersit.bench.replay_breaks import DECISION_S, autocorrelated, bouts, region_scan
from aftersit.bench.replay_sittings import as_sitting, protocol_of, timelines, untouched
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.insight.elsewhere import RegionScan
from aftersit.insight.reward_off import compared, turns
from aftersit.insight.within import difference_within
from aftersit.replay.timeline import Timeline
from aftersit.settings import load_settings
from aftersit.sheet import Kind

SEED = 51150
SERIES, QUICK_SERIES, LEVELS = 200, 20, 40
PHI = (0.0, 0.5, 0.9)
BOUTS_S = (2.0, 12.0)
SIDES = ((20, 20), (45, 45), (150, 150))
"""Windows of each block."""
SPREAD_DB, HIGHER_DB, SHARE = 3.0, 1.5, 0.4
PLACES = ("precuneus", "insula", "lateraloccipital")
BANDS_HZ = ((4, 8), (8, 13), (13, 30))
OVER_DB = (0.0, 1.0)
EDGES_S = (0.0, 40.0, 110.0, 180.0)
"""Of a baseline and two practice blocks."""


def off_tables(quick: bool) -> Iterator[Table]:
    """Simulated levels and rewards, then open rest recordings with another person's reward."""
    yield _simulated(QUICK_SERIES if quick else SERIES)
    people = [r for r in open_recordings() if r.x.shape[1] / r.rate_hz >= EDGES_S[-1]]
    people = [r for r in people if not r.name.endswith("_2")]
    if len(people) > 1:
        yield _open(people[: 2 if quick else None])


def _simulated(n_series: int) -> Table:
    chosen = load_settings(LABEL).replay.insight
    rows = []
    for number, (bout_s, phi, sides) in enumerate(product(BOUTS_S, PHI, SIDES)):
        rng = np.random.default_rng([SEED, number])
        p = {0.0: [], HIGHER_DB: []}
        for _ in range(n_series):
            off = [_unrewarded(rng, n, bout_s, chosen.window_s) for n in sides]
            if sum(map(turns, off)) < chosen.off_turns_min:
                continue
            levels = [SPREAD_DB * autocorrelated(rng, phi, LEVELS, n) for n in sides]
            for db, found in p.items():
                higher = [x + db * o for x, o in zip(levels, off, strict=True)]
                found.append(difference_within(higher, off, chosen.share_cosines).p)
        told_percent = round(100 * len(p[0.0]) / n_series)
        alarms, hits = (np.concatenate([*found, []]) for found in p.values())
        rows.append(
            {
                "bout_s": bout_s,
                "phi": phi,
                "windows": " + ".join(map(str, sides)),
                "told_percent": told_percent,
                "false_alarm_percent": _percent_below(alarms, 0.05),
                "below_0.001_percent": _percent_below(alarms, 0.001),
                "found_percent": _percent_below(hits, 0.05),
            }
        )
    return Table(
        "reward-off",
        f"Unrewarded against rewarded time, simulated: false alarms, and found at {HIGHER_DB:g} dB",
        rows,
        (
            f"{n_series} rewards by {LEVELS} levels a row; windows of {chosen.window_s:g} s; "
            f"levels AR(1) by window, spread {SPREAD_DB:g} dB; bouts of `bout_s` on average, "
            f"{SHARE:.0%} of the time; seed {SEED}. Told: rewards that turn {chosen.off_turns_min} "
            "times or more; nothing is said of the others.",
        ),
    )


def _unrewarded(rng: np.random.Generator, count: int, bout_s: float, window_s: float) -> np.ndarray:
    """Part of each window of a block without reward."""
    return 1 - bouts(rng, SHARE, (1, count), round(window_s / DECISION_S), bout_s)[0]


def _percent_below(p: np.ndarray, limit: float) -> float | None:
    return round(100 * float((p < limit).mean()), 2) if p.size else None


def _open(people: list[OpenRecording]) -> Table:
    settings = load_settings(LABEL)
    scans = {r.name: region_scan(r, settings)[0] for r in people}
    rewards = {r.name: _rewards(r) for r in people}
    rows = [
        _row(levels, scans[levels], reward, rewards[reward], settings.replay.insight)
        for levels, reward in permutations(scans, 2)
    ]
    cases, tests = (sum(row[key] for row in rows) for key in ("cases", "tests"))
    alarms = sum(row["tests"] * row["false_alarm_percent"] for row in rows)
    rows.append(
        {
            "levels": "all",
            "cases": cases,
            "tests": tests,
            "false_alarm_percent": round(alarms / tests, 1),
            "cases_with_findings": sum(row["cases_with_findings"] for row in rows),
        }
    )
    return Table(
        "reward-off-open",
        "Levels of one person at rest against the reward of another: false alarms, %",
        rows,
        (
            f"Rewards: {len(PLACES)} regions by {len(BANDS_HZ)} bands, {OVER_DB[0]:g} and "
            f"{OVER_DB[1]:g} dB over the baseline, two blocks of {EDGES_S[2] - EDGES_S[1]:g} s.",
            "cases_with_findings: rewards with anything that held the false discovery rate.",
        ),
    )


def _blocks() -> tuple[Block, ...]:
    kinds = (Kind.BASELINE, Kind.PRACTICE, Kind.PRACTICE)
    limits = zip(kinds, EDGES_S, EDGES_S[1:], strict=False)
    return tuple(Block(i, k, a, b, "closed", "bench") for i, (k, a, b) in enumerate(limits, 1))


def _rewards(recording: OpenRecording) -> list[Timeline]:
    """Replays of single conditions over a person's rest."""
    rate_hz, found = float(recording.rate_hz), []
    for place in PLACES:
        for band_hz in BANDS_HZ:
            for db in OVER_DB:
                protocol = protocol_of(
                    {
                        "name": "one",
                        "where": {"region": place},
                        "band_hz": band_hz,
                        "direction": "above",
                        "threshold": {"db_over_baseline": db},
                    }
                )
                signal = untouched(recording.x, rate_hz)
                of = as_sitting(recording.x, signal, rate_hz, _blocks(), protocol)
                found.append(timelines(of, protocol)["cleaned"])
    return found


def _row(name: str, scan: RegionScan, other: str, rewards: list[Timeline], chosen) -> dict:
    found = [compared(scan, timeline, _blocks()[1:], chosen) for timeline in rewards]
    p = [f.difference.p for f in found if f is not None]
    held = [(stats.false_discovery_control(x, axis=None) <= 0.05).any() for x in p]
    return {
        "levels": name,
        "reward": other,
        "cases": len(p),
        "tests": sum(x.size for x in p),
        "false_alarm_percent": round(100 * float((np.array(p) < 0.05).mean()), 1) if p else 0.0,
        "cases_with_findings": int(sum(held)),
    }
