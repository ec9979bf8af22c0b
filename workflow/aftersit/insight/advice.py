"""Thresholds that would have given a target reward rate in this sitting.

A target rate is common practice without a source, and no target is the correct
one. Every threshold that may move is set so that its condition is met equally
often, as often as it takes for all together to give the target. A condition that
asks for less where muscle is loud guards against muscle (Whitham et al. 2007, Clin
Neurophysiol 118:1877) and stays as it is; so does one that sets itself. How sure
a threshold is: the interval of the rate at which it is met (see
`aftersit.insight.longrun`), turned into decibels at both ends (Woodruff 1952,
J Am Stat Assoc 47:635), and how sure the baseline's level is beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from aftersit.findings import Advice, AdvisedThreshold, NoAdvice
from aftersit.insight.longrun import mean_variance
from aftersit.insight.playback import Playback
from aftersit.insight.segments import segment_means
from aftersit.insight.settings import InsightSettings
from aftersit.protocol import Condition

_ROUNDS = 30


@dataclass(frozen=True)
class Held:
    """A condition as it stood in the last scored block.

    Attributes
    ----------
    threshold : float
        In the measure's own unit.
    level : float or None
        Mean of the baseline; None for absolute thresholds.
    level_error_db : float or None
        Standard error of the level; None where the baseline is too short to say.
    """

    condition: Condition
    threshold: float
    level: float | None
    level_error_db: float | None


def may_move(condition: Condition, fast_hz: float | None) -> bool:
    """Whether advice may touch a condition's threshold.

    Parameters
    ----------
    fast_hz : float or None
        From here on muscle is loud at the scalp, and a condition that asks for less
        guards against it; None: not known, and every such condition is taken for a guard.
    """
    guard = condition.direction == "below" and condition.band_hz[0] >= (fast_hz or 0.0)
    return not guard and not condition.is_adaptive


def thresholds_for(played: Playback, target: float, movable: np.ndarray) -> np.ndarray | None:
    """Moves in dB, stricter above 0, that give the target rate; None where none do.

    Parameters
    ----------
    movable : ndarray of bool, shape (n_conditions,)
    """
    ordered = np.sort(played.distance_db, axis=1)

    def moves(met_share: float) -> np.ndarray:
        return np.where(movable, _quantile(ordered, 1 - met_share), 0.0)

    low, high = 0.0, 1.0
    if played.reward_share(moves(high)) < target:
        return None
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        if played.reward_share(moves(middle)) < target:
            low = middle
        else:
            high = middle
    return moves(high)


def _quantile(ordered: np.ndarray, share: float) -> np.ndarray:
    """Values that this share of each sorted row does not pass; at 0 just below the lowest."""
    n = ordered.shape[1]
    at = int(np.ceil(np.clip(share, 0, 1) * n)) - 1
    return ordered[:, at] if at >= 0 else ordered[:, 0] - 1e-6


def advise(
    played: Playback,
    held: Sequence[Held],
    refused: Sequence[NoAdvice],
    settings: InsightSettings,
    fast_hz: float | None,
) -> Advice:
    """Advise thresholds, or say why not; `fast_hz` as in `may_move`."""
    movable = np.array([may_move(h.condition, fast_hz) for h in held], dtype=bool)
    reasons = list(refused)
    if played.known_s < settings.advice_known_s:
        reasons.append("too-little-known")
    if not movable.any():
        reasons.append("sets-itself")
    if reasons:
        return _none(reasons, settings)
    wanted = thresholds_for(played, settings.advice_target, movable)
    if wanted is None:
        return _none(["out-of-reach"], settings)
    moves = np.clip(wanted, -settings.advice_step_db, settings.advice_step_db)
    halves = _half_split(played, settings.advice_target, movable)
    margin = settings.advice_margin
    return Advice(
        target_share=settings.advice_target,
        refused=(),
        thresholds=tuple(
            _advised(played, i, h, moves[i], wanted[i], settings)
            for i, h in enumerate(held)
            if movable[i]
        ),
        expected_share=played.reward_share(moves),
        halves=halves,
        steady=halves and all(abs(r - settings.advice_target) <= margin for r in halves),
    )


def _none(reasons: Sequence[NoAdvice], settings: InsightSettings) -> Advice:
    return Advice(
        target_share=settings.advice_target,
        refused=tuple(dict.fromkeys(reasons)),
        thresholds=(),
        expected_share=None,
        halves=None,
        steady=None,
    )


def _half_split(played: Playback, target: float, movable: np.ndarray) -> tuple[float, float] | None:
    """Rates that thresholds of one half of the known time give in the other."""
    middle = len(played.rows) // 2
    halves = played.part(0, middle), played.part(middle, len(played.rows))
    rates = []
    for one, other in (halves, halves[::-1]):
        moves = thresholds_for(one, target, movable)
        if moves is None:
            return None
        rates.append(other.reward_share(moves))
    return rates[0], rates[1]


def _advised(
    played: Playback, i: int, held: Held, move: float, wanted: float, settings: InsightSettings
) -> AdvisedThreshold:
    sign = 1 if held.condition.direction == "above" else -1
    value = held.threshold * 10 ** (sign * move / 10)
    over = None if held.level is None else float(10 * np.log10(value / held.level))
    low, high = _interval(played, i, move, held, settings)
    ends = sorted((sign * (low - move), sign * (high - move))) if low is not None else None
    return AdvisedThreshold(
        condition=held.condition.name,
        stricter_db=float(move),
        limited=bool(abs(wanted - move) > 1e-9),
        value=float(value),
        db_over_baseline=over,
        low_db=None if over is None or ends is None else over + ends[0],
        high_db=None if over is None or ends is None else over + ends[1],
        met_share=float((played.distance_db[i] > move).mean()),
    )


def _interval(
    played: Playback, i: int, move: float, held: Held, settings: InsightSettings
) -> tuple[float | None, float | None]:
    """Interval of a move, in dB; None where blocks or baseline are too short to say."""
    if held.level is not None and held.level_error_db is None:
        return None, None
    met = (played.distance_db[i] > move).astype(float)
    error, freedom = _rate_error(met, played, settings)
    if error is None:
        return None, None
    ordered = np.sort(played.distance_db[i : i + 1], axis=1)
    t = special.stdtrit(freedom, 0.975)
    low, high = (float(_quantile(ordered, 1 - met.mean() + way * t * error)[0]) for way in (-1, 1))
    level = special.stdtrit(settings.share_cosines, 0.975) * (held.level_error_db or 0.0)
    return move - float(np.hypot(move - low, level)), move + float(np.hypot(high - move, level))


def _rate_error(
    met: np.ndarray, played: Playback, settings: InsightSettings
) -> tuple[float | None, int]:
    """Standard error of how often a condition is met, and its degrees of freedom."""
    length = max(1, round(settings.segment_s / played.update_s))
    total, variance, freedom = 0, 0.0, 0
    for a, b in played.blocks:
        segments = segment_means(met[a:b], length, 1.0)
        if len(segments) > settings.share_cosines:
            variance += len(segments) ** 2 * float(mean_variance(segments, settings.share_cosines))
            total, freedom = total + len(segments), freedom + settings.share_cosines
    return (np.sqrt(variance) / total, freedom) if total else (None, 0)
