"""Rewards that the room's own system logged, against the replay.

The room's system has its own head model, filters and units, so that agreement is
a finding and no test of either.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.blocks import Block
from aftersit.findings import Agreement
from aftersit.replay import logic
from aftersit.replay.run import rows_of
from aftersit.replay.timeline import REWARD, Timeline

Span = tuple[float, float]
LAG_S = 3.0
"""Lags up to this far either way are tried: systems differ by filters and smoothing."""


def cohens_kappa(one: np.ndarray, other: np.ndarray) -> float | None:
    """Agreement of two yes-or-no series beyond chance (Cohen 1960, Educ Psychol Meas 20:37).

    None when chance alone would agree always.
    """
    agreed = float((one == other).mean())
    p, q = float(one.mean()), float(other.mean())
    by_chance = p * q + (1 - p) * (1 - q)
    return None if by_chance >= 1 else (agreed - by_chance) / (1 - by_chance)


def agreement(
    name: str, timeline: Timeline, blocks: Sequence[Block], logged: Sequence[Span]
) -> Agreement | None:
    """Compare over the known time of the scored blocks; None when there is none.

    Parameters
    ----------
    name : str
        `cleaned` or `uncleaned`.
    logged : sequence of (start_s, stop_s)
        A log of moments has starts only, with stop equal to start.
    """
    inside = np.zeros(len(timeline.times_s), dtype=bool)
    for block in blocks:
        inside[rows_of(block, timeline.times_s)] = True
    known = inside & timeline.known
    if not known.any():
        return None
    replayed = timeline.state == REWARD
    step_s = float(timeline.times_s[1] - timeline.times_s[0])
    moments = all(stop <= start for start, stop in logged)
    room = _rows(timeline, logged, step_s if moments else 0.0)
    lag = None if moments else _best_lag(room, replayed, known, round(LAG_S / step_s))
    at_lag = np.roll(room, -(lag or 0))
    return Agreement(
        replay=name,
        known_s=float(timeline.row_s[known].sum()),
        logged_share=float(room[known].mean()),
        replayed_share=float(replayed[known].mean()),
        kappa=None if moments else _kappa(room, replayed, known),
        lag_s=None if lag is None else lag * step_s,
        kappa_at_lag=None if lag is None else _kappa(at_lag, replayed, known),
        **_bouts(at_lag, replayed, known, round(LAG_S / step_s) if moments else 0),
    )


def _rows(timeline: Timeline, logged: Sequence[Span], least_s: float) -> np.ndarray:
    """Whether the room rewarded at each decision."""
    found = np.zeros(len(timeline.times_s), dtype=bool)
    for start, stop in logged:
        found |= (timeline.times_s >= start - 1e-9) & (
            timeline.times_s < max(stop, start + least_s) - 1e-9
        )
    return found


def _kappa(room: np.ndarray, replayed: np.ndarray, known: np.ndarray) -> float | None:
    if room[known].all() or replayed[known].all() or not (room[known].any() and replayed.any()):
        return None
    return cohens_kappa(room[known], replayed[known])


def _best_lag(room: np.ndarray, replayed: np.ndarray, known: np.ndarray, most: int) -> int | None:
    """Steps that the log comes later at the best agreement; the smallest of equals."""
    lags = sorted(range(-most, most + 1), key=abs)
    found = [_kappa(np.roll(room, -lag), replayed, known) for lag in lags]
    scored = [(k, lag) for k, lag in zip(found, lags, strict=True) if k is not None]
    return max(scored, key=lambda pair: pair[0])[1] if scored else None


def _bouts(room: np.ndarray, replayed: np.ndarray, known: np.ndarray, slack: int) -> dict[str, int]:
    """Bouts on either side, and those that nothing on the other side touches."""
    sides = [_bouts_of(room & known), _bouts_of(replayed & known)]
    alone = [
        sum(not _touched(other, a - slack, b + slack) for a, b in own)
        for own, other in ((sides[0], replayed & known), (sides[1], room & known))
    ]
    return {
        "logged_bouts": len(sides[0]),
        "replayed_bouts": len(sides[1]),
        "missed_bouts": alone[0],
        "extra_bouts": alone[1],
    }


def _bouts_of(flags: np.ndarray) -> list[tuple[int, int]]:
    return [(a, b) for a, b in logic.runs(flags) if flags[a]]


def _touched(flags: np.ndarray, start: int, stop: int) -> bool:
    return bool(flags[max(start, 0) : stop].any())
