"""What a row of sittings tells: a direction, none, or that it is too early to tell."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

LEAST_SITTINGS = 5
"""Of four values in a row even the clearest order comes by chance in 1 of 12 cases (2 of 4!);
of five in 1 of 60 (Kendall 1938, Biometrika 30:81: the exact distribution of his tau)."""
ALPHA = 0.05
"""Probability below which a direction is told."""

Direction = Literal["too-early", "longer", "shorter", "no-direction"]


def direction(values: Sequence[float]) -> tuple[Direction, float | None]:
    """Whether values rise or fall with their place in the row, more than chance would.

    Parameters
    ----------
    values : sequence of float
        In the order of the sittings.

    Returns
    -------
    direction : str
    p : float or None
        Two-sided, of Kendall's tau between value and place; None when it is too early.
    """
    if len(values) < LEAST_SITTINGS:
        return "too-early", None
    from scipy.stats import kendalltau

    found = kendalltau(np.arange(len(values)), values)
    p = float(found.pvalue)
    if not p < ALPHA:
        return "no-direction", None if p != p else p
    return ("longer" if found.statistic > 0 else "shorter"), p


def scatter(values: Sequence[float]) -> float | None:
    """How far neighbouring sittings lie apart by themselves, as a standard deviation.

    From the differences of neighbours, which a slow rise leaves alone (von Neumann 1941,
    Ann Math Stat 12:367): the root of half their mean square. None for fewer than three.
    """
    if len(values) < 3:
        return None
    return float(np.sqrt((np.diff(values) ** 2).mean() / 2))
