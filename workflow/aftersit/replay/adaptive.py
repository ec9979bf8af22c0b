"""Thresholds that move towards a target rate, from past values only.

After each known decision the threshold moves by a small step in decibels: it is
tightened by step x (1 - target) when the condition was met and eased by
step x target when it was not. It stands still where the condition is met in the
target's share of the time (stochastic approximation: Robbins and Monro 1951,
Ann Math Stat 22:400). A decision is compared with the threshold that the ones
before it have left.
"""

import math

import numpy as np

from aftersit.protocol_rules import Adaptive


def step_db(rule: Adaptive, update_s: float) -> float:
    """How far a threshold can move at one decision."""
    return rule.speed_db_per_min * update_s / 60


def adapted(
    value: np.ndarray, start: float, direction: str, target_rate: float, step_db: float
) -> np.ndarray:
    """The threshold that each decision is compared with.

    Parameters
    ----------
    value : ndarray, shape (n_rows,)
        Smoothed measure; NaN, where it is not known or held, moves nothing.
    start : float
        Threshold of the first decision, > 0.
    direction : str
        `above` or `below`.

    Returns
    -------
    ndarray, shape (n_rows + 1,)
        The last is the threshold for whatever comes next.
    """
    strict = 1 if direction == "above" else -1
    tighten, ease = strict * step_db * (1 - target_rate), -strict * step_db * target_rate
    start_db, moved_db = 10 * math.log10(start), 0.0
    thresholds = np.full(len(value) + 1, start)
    for k, x in enumerate(value.tolist()):
        if x == x:
            met = x > thresholds[k] if strict > 0 else x < thresholds[k]
            moved_db += tighten if met else ease
        thresholds[k + 1] = 10 ** ((start_db + moved_db) / 10) if moved_db else start
    return thresholds
