"""The replay against truth: the same protocol on the brain alone, from other heads."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.bench.case import Case, Rhythm, Tension
from aftersit.bench.replay_sittings import (
    as_sitting,
    cleaned_of,
    protocol_of,
    timelines,
    untouched,
)
from aftersit.bench.sittings import Simulated, simulate
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.insight.agreement import cohens_kappa
from aftersit.protocol import Protocol
from aftersit.replay.timeline import REWARD, Timeline
from aftersit.sheet import Kind

SEED = 51400
SITTINGS, QUICK_SITTINGS = 44, 1
"""For each level; there are five."""
LEVELS: tuple[tuple[float, float | None], ...] = (
    (3.0, None),
    (6.0, None),
    (9.0, None),
    (6.0, 0.0),
    (6.0, 6.0),
)
"""Burst over background, and muscle over brain in the fast band, dB; None is no muscle."""
BLOCKS = (
    Block(1, Kind.BASELINE, 0.0, 50.0, "closed", "bench"),
    Block(2, Kind.PRACTICE, 50.0, 115.0, "closed", "bench"),
    Block(3, Kind.BREAK, 115.0, 120.0, "closed", "bench"),
    Block(4, Kind.PRACTICE, 120.0, 180.0, "closed", "bench"),
)
PLACES = (
    ("insula", "right", (35, 45)),
    ("caudalanteriorcingulate", "both", (4, 8)),
    ("precuneus", "both", (8, 13)),
    ("superiorfrontal", "left", (15, 25)),
)
"""Region, side and band; sittings with muscle take the first."""
SECOND = ("superiorparietal", "left", (4, 8))
"""Where every other sitting asks for two at once."""


@dataclass(frozen=True)
class _Scored:
    """One sitting: shares of reward and kappa against the truth, over time known to both."""

    rise_db: float
    muscle_db: float | None
    band_hz: tuple[float, float]
    truth: float
    cleaned: float
    uncleaned: float
    kappa_cleaned: float | None
    kappa_uncleaned: float | None


def truth_tables(quick: bool) -> Iterator[Table]:
    """Kappa and time in target by level, then by band."""
    n = QUICK_SITTINGS if quick else SITTINGS
    scored = [
        _scored(SEED + 1000 * k + s, rise_db, muscle_db)
        for k, (rise_db, muscle_db) in enumerate(LEVELS)
        for s in range(n)
    ]
    found = [s for s in scored if s is not None]
    note = (
        f"{n} sittings of 3 minutes a level, from {len({s.band_hz for s in found})} bands, "
        f"every other with two conditions; thresholds half of the rise over baseline; seed "
        f"{SEED}. {len(scored) - len(found)} could not be scored.",
    )
    levels = [[s for s in found if (s.rise_db, s.muscle_db) == level] for level in LEVELS]
    yield Table(
        "truth",
        "Replay against the same protocol on the brain alone, by signal level",
        [_row({"rise_db": g[0].rise_db, "muscle_db": g[0].muscle_db}, g) for g in levels if g],
        note,
    )
    calm = [s for s in found if s.muscle_db is None]
    bands = [
        [s for s in calm if s.band_hz == band] for band in dict.fromkeys(s.band_hz for s in calm)
    ]
    yield Table(
        "truth-bands",
        "The same without muscle, by the first condition's band",
        [_row({"band_hz": "{:g}-{:g}".format(*g[0].band_hz)}, g) for g in bands],
    )


def _row(head: dict, scored: Sequence[_Scored]) -> dict:
    kappas = np.array([s.kappa_cleaned for s in scored if s.kappa_cleaned is not None])
    beside = np.array([s.kappa_uncleaned for s in scored if s.kappa_uncleaned is not None])
    bias = 100 * np.array([s.cleaned - s.truth for s in scored])
    raw = 100 * np.array([s.uncleaned - s.truth for s in scored])
    return {
        **head,
        "sittings": len(scored),
        "truth_percent": round(100 * float(np.mean([s.truth for s in scored])), 1),
        "kappa_mean": round(float(kappas.mean()), 3) if len(kappas) else None,
        "kappa_10th": round(float(np.quantile(kappas, 0.1)), 3) if len(kappas) else None,
        "bias_points": round(float(bias.mean()), 2),
        "error_points": round(float(np.abs(bias).mean()), 2),
        "uncleaned_kappa": round(float(beside.mean()), 3) if len(beside) else None,
        "uncleaned_bias": round(float(raw.mean()), 2),
    }


def _case(seed: int, rise_db: float, muscle_db: float | None) -> tuple[Case, Protocol]:
    rng = np.random.default_rng(seed)
    first = PLACES[0] if muscle_db is not None else PLACES[seed % len(PLACES)]
    chosen = [first, SECOND] if seed % 2 else [first]
    spans = [_spans(rng) for _ in chosen]
    rhythms = tuple(
        Rhythm(f"{region}-{side}", band, rise_db, on)
        for (region, side, band), on in zip(chosen, spans, strict=True)
    )
    tensions = ()
    if muscle_db is not None:
        tensions = (Tension(muscle_db, spans=_spans(rng), band_hz=first[2]),)
    case = Case.drawn(seed, minutes=3.0, eyes="closed", rhythms=rhythms, tensions=tensions)
    conditions = [
        {
            "name": f"c{k}",
            "where": {"region": region, "hemisphere": side},
            "band_hz": band,
            "direction": "above",
            "threshold": {"db_over_baseline": rise_db / 2},
        }
        for k, (region, side, band) in enumerate(chosen, 1)
    ]
    return case, protocol_of(*conditions)


def _spans(rng: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """Bursts of 5-20 s, 5-15 s apart, in the practice blocks."""
    spans, at = [], 55.0
    while at < 172:
        stop = min(at + rng.uniform(5, 20), 178.0)
        spans.append((float(at), float(stop)))
        at = stop + rng.uniform(5, 15)
    return tuple(spans)


def _scored(seed: int, rise_db: float, muscle_db: float | None) -> _Scored | None:
    case, protocol = _case(seed, rise_db, muscle_db)
    simulated = simulate(case)
    found = as_sitting(
        simulated.signal_uv,
        cleaned_of(simulated.raw("ecg") if case.heart_uv else simulated.raw()),
        case.rate_hz,
        BLOCKS,
        protocol,
    )
    played = timelines(found, protocol)
    if not played:
        return None
    played["truth"] = _truth(simulated, protocol)
    known = np.all([t.known for t in played.values()], axis=0)
    on = {name: (t.state == REWARD)[known] for name, t in played.items()}
    return _Scored(
        rise_db,
        muscle_db,
        tuple(protocol.conditions[0].band_hz),
        *(float(on[name].mean()) for name in ("truth", "cleaned", "uncleaned")),
        cohens_kappa(on["cleaned"], on["truth"]),
        cohens_kappa(on["uncleaned"], on["truth"]),
    )


def _truth(simulated: Simulated, protocol: Protocol) -> Timeline:
    """The same protocol on what the brain alone gives."""
    brain, rate_hz = simulated.brain, simulated.rate_hz
    found = as_sitting(brain, untouched(brain, rate_hz), rate_hz, BLOCKS, protocol)
    return timelines(found, protocol)["cleaned"]
