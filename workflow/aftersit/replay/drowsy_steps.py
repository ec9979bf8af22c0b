"""Which signs that often go with drowsiness hold in which step; the rule for one step."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.quality import DrowsySigns
from aftersit.record import DrowsyReason, DrowsySign
from aftersit.replay.settings import DrowsySettings

CLOSED, OPEN = "closed", "open"


@dataclass(frozen=True)
class Steps:
    """Every step of a recording under the rule.

    Attributes
    ----------
    step_s : float
    signs : dict of ndarray of bool, shape (n_steps,)
        Where each sign held.
    suspect, looked : ndarray of bool, shape (n_steps,)
        Where they add up, and where they could have.
    without : dict of tuple
        Eyes state -> what the rule had to do without.
    """

    step_s: float
    signs: dict[DrowsySign, np.ndarray]
    suspect: np.ndarray
    looked: np.ndarray
    without: dict[str, tuple[DrowsyReason, ...]]

    def inside(self, block: Block) -> np.ndarray:
        """Steps whose middle lies in a block, shape (n_steps,)."""
        middles_s = (np.arange(self.suspect.size) + 0.5) * self.step_s
        return (middles_s >= block.start_s) & (middles_s < block.stop_s)


@dataclass(frozen=True)
class _Rows:
    """The measured rows with NaN for unknown, shape (n_steps,), all NaN where not measured."""

    alpha_db: np.ndarray
    theta_db: np.ndarray
    rolls_db: np.ndarray

    @classmethod
    def of(cls, signs: DrowsySigns) -> "_Rows":
        rows = (signs.alpha_db, signs.theta_db, signs.rolls_db)
        n_steps = max(map(len, rows))
        return cls(*(np.array(row or [None] * n_steps, float) for row in rows))


def judge_steps(signs: DrowsySigns, blocks: Sequence[Block], settings: DrowsySettings) -> Steps:
    """Apply the rule of `replay.drowsy`, one eyes state after the other."""
    rows = _Rows.of(signs)
    none = np.zeros(rows.alpha_db.size, bool)
    held = {name: none.copy() for name in ("alpha-out", "theta-up", "slow-rolls")}
    steps = Steps(signs.step_s, held, none.copy(), none.copy(), {})
    for eyes in (CLOSED, OPEN):
        at = none.copy()
        for block in blocks:
            at |= steps.inside(block) & (block.eyes == eyes)
        steps.without[eyes] = _judge_state(eyes, at, signs, rows, steps, settings)
    return steps


def _judge_state(
    eyes: str,
    at: np.ndarray,
    signs: DrowsySigns,
    rows: _Rows,
    steps: Steps,
    settings: DrowsySettings,
) -> tuple[DrowsyReason, ...]:
    """Fill the steps of one eyes state; returns what was missing."""
    size = round(settings.window_s / signs.step_s)
    alpha, theta, rolls = (
        moving_median(np.where(at, row, np.nan), size)
        for row in (rows.alpha_db, rows.theta_db, rows.rolls_db)
    )
    share, least = settings.level_share, settings.level_min_s / signs.step_s
    fall_db, rise_db = level(alpha, 1 - share, least) - alpha, theta - level(theta, share, least)
    stands = (signs.alpha_stands_db or 0.0) >= settings.alpha_stands_db
    by_alpha = eyes == CLOSED and stands
    with np.errstate(invalid="ignore"):
        out = at & (fall_db >= settings.alpha_out_db) & by_alpha
        up = at & (rise_db >= settings.theta_up_db)
        rolling = at & (rolls >= settings.rolls_db)
        together = out & up & (fall_db + rise_db >= settings.together_db)
    known = np.isfinite(rise_db) & (np.isfinite(rolls) | (by_alpha & np.isfinite(fall_db)))
    steps.suspect[at] = (together | (rolling & (out | up)))[at]
    steps.looked[at] = known[at]
    for name, held in zip(steps.signs, (out, up, rolling), strict=True):
        steps.signs[name][at] = held[at]
    return _without(eyes, signs, stands, bool(np.isfinite(rise_db).any()))


def _without(
    eyes: str, signs: DrowsySigns, stands: bool, has_level: bool
) -> tuple[DrowsyReason, ...]:
    codes: list[DrowsyReason] = list(signs.limits)
    if signs.theta_db:
        codes += [] if has_level else ["no-level"]
        codes += ["no-alpha"] if eyes == CLOSED and not stands else []
    return (*codes, *(("eyes-open",) if eyes == OPEN else ()))


def level(values_db: np.ndarray, share: float, least: float) -> float:
    """A quantile of the known values; NaN with fewer than `least`."""
    known = values_db[np.isfinite(values_db)]
    return float(np.quantile(known, share)) if known.size >= least else np.nan


def moving_median(values: np.ndarray, size: int) -> np.ndarray:
    """Median of the known values in windows of an odd number of steps.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN where not known.
    size : int
        Steps in a window; an even number counts as one more.

    Returns
    -------
    ndarray, shape (n,)
        NaN where the value itself is not known, or less than half of its window.
    """
    if values.size == 0:
        return values
    half = size // 2
    padded = np.pad(values, half, constant_values=np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    n_known = np.isfinite(windows).sum(axis=1)
    enough = np.isfinite(values) & (n_known >= half + 1)
    out = np.full(values.size, np.nan)
    if enough.any():
        out[enough] = np.nanmedian(windows[enough], axis=1)
    return out
