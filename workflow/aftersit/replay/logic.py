"""From values and thresholds to a reward: comparisons, gate, timing, deciding condition."""

import numpy as np


def distance_db(value: np.ndarray, threshold: np.ndarray, direction: str) -> np.ndarray:
    """Distance to a threshold in dB, > 0 where the condition is met; NaN where not known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = 10 * np.log10(value / threshold)
    return distance if direction == "above" else -distance


def is_met(value: np.ndarray, threshold: np.ndarray, direction: str) -> np.ndarray:
    """Whether values lie beyond thresholds; False where either is not known."""
    return value > threshold if direction == "above" else value < threshold


def gate(met: np.ndarray, needed: int) -> np.ndarray:
    """Whether at least `needed` conditions are met; shape (n_conditions, n) to (n,).

    All conditions are `needed = n_conditions`, any is 1.
    """
    return met.sum(axis=0) >= needed


def deciding(met: np.ndarray, needed: int) -> np.ndarray:
    """Where flipping a condition alone would have switched the gate; shape of `met`."""
    count = met.sum(axis=0)
    flipped = count + np.where(met, -1, 1)
    return (flipped >= needed) != (count >= needed)


def steps_for(duration_s: float, update_s: float) -> int:
    """Update steps that last at least a duration."""
    return int(np.ceil(duration_s / update_s - 1e-9))


def reward(held: np.ndarray, onset_steps: int, release_steps: int) -> np.ndarray:
    """Reward after onset and release timing, over one unbroken run of decisions.

    Parameters
    ----------
    held : ndarray of bool, shape (..., n)
        Whether the gate is open at each decision.
    onset_steps, release_steps : int
        The gate must have stayed open (shut) this many steps since the
        decision at which it was first found so; 0 switches at once.

    Returns
    -------
    ndarray of bool, shape (..., n)
        It starts without reward.
    """
    place = np.arange(held.shape[-1])
    switched_on = _unbroken(held, place) > onset_steps
    switched_off = _unbroken(~held, place) > release_steps
    return _last(switched_on, place) > _last(switched_off, place)


def _last(flags: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Place of the last flag up to each one, -1 before the first."""
    return np.maximum.accumulate(np.where(flags, place, -1), axis=-1)


def _unbroken(flags: np.ndarray, place: np.ndarray) -> np.ndarray:
    """How many flags in a row end at each place."""
    return place - _last(~flags, place)


def runs(labels: np.ndarray) -> list[tuple[int, int]]:
    """Limits [start, stop) of the runs of equal labels."""
    if len(labels) == 0:
        return []
    cuts = (np.flatnonzero(labels[1:] != labels[:-1]) + 1).tolist()
    return list(zip([0, *cuts], [*cuts, len(labels)], strict=True))
