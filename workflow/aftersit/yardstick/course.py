"""What a row of sittings tells: a direction, none, or that it is too early to tell."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

LEAST_SITTINGS = 5
"""Of four values in a row even the clearest order comes by chance in 1 of 12 cases (2 of 4!);
of five in 1 of 60 (Kendall 1938, Biometrika 30:81: the exact distribution of his tau)."""
ALL_ORDERS = 8
"""Up to so many sittings equal values are allowed for by counting all orders (8! = 40,320)."""
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
    if len(set(values)) == 1:
        return "no-direction", None
    p = _p(np.asarray(values, dtype=float))
    if not p < ALPHA:
        return "no-direction", p
    return ("longer" if _rises_less_falls(np.asarray(values)) > 0 else "shorter"), p


def _p(values: np.ndarray) -> float:
    """Two-sided; exact without equal values and for short rows, else Kendall's for ties."""
    from scipy import stats

    if len(set(values.tolist())) == len(values) or len(values) > ALL_ORDERS:
        return float(stats.kendalltau(np.arange(len(values)), values).pvalue)
    orders = stats.permutation_test(
        (values,), _rises_less_falls, permutation_type="pairings", n_resamples=np.inf
    )
    return float(orders.pvalue)


def _rises_less_falls(values: np.ndarray, axis: int = -1) -> np.ndarray:
    """Pairs whose later value is larger, less those whose earlier one is."""
    values = np.moveaxis(values, axis, -1)
    earlier, later = np.triu_indices(values.shape[-1], 1)
    return np.sign(values[..., later] - values[..., earlier]).sum(axis=-1)


def scatter(values: Sequence[float]) -> float | None:
    """How far neighbouring sittings lie apart by themselves, as a standard deviation.

    From the differences of neighbours, which a slow rise leaves alone (von Neumann 1941,
    Ann Math Stat 12:367): the root of half their mean square. None for fewer than three.
    """
    if len(values) < 3:
        return None
    return float(np.sqrt((np.diff(values) ** 2).mean() / 2))
