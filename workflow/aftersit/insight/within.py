"""How a level differs between the rewarded and the unrewarded time of the same blocks.

A regression of the level on the part of each window that was not rewarded, with a mean of
its own for each block. Level and reward both hang together in time, so that the slope's
variance is taken from the slowest movements of their product, as in
`aftersit.insight.longrun` (Lazarus, Lewis, Stock and Watson 2018, J Bus Econ Stat 36:541),
block by block; residuals are divided by one less their leverage, without which few
rewarded windows look surer than they are (HC3: MacKinnon and White 1985, J Econometrics
29:305). The degrees of freedom of the sum are Welch's.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.insight.longrun import Comparison, mean_variance, student


def difference_within(
    levels: Sequence[np.ndarray], parts: Sequence[np.ndarray], cosines: int, confidence=0.95
) -> Comparison:
    """Level where `parts` is 1 less that where it is 0, from the changes inside blocks.

    Parameters
    ----------
    levels : sequence of ndarray, each of shape (..., n_windows)
        Of each block, more than `cosines` windows.
    parts : sequence of ndarray, each of shape (n_windows,)
        In 0..1; in each block some differ.
    """
    levels = [x - x.mean(axis=-1, keepdims=True) for x in levels]
    parts = [p - p.mean() for p in parts]
    spread = sum(p @ p for p in parts)
    slope = sum(x @ p for x, p in zip(levels, parts, strict=True)) / spread
    own = [_variance(x, p, slope, spread, cosines) for x, p in zip(levels, parts, strict=True)]
    return student(slope, own, cosines, sum(own) > 0, confidence)


def _variance(
    level: np.ndarray, part: np.ndarray, slope: np.ndarray, spread: float, cosines: int
) -> np.ndarray:
    """What one block adds to the slope's variance."""
    leverage = part**2 / spread + 1 / len(part)
    residual = (level - slope[..., np.newaxis] * part) / (1 - leverage)
    return mean_variance(residual * part, cosines) * len(part) ** 2 / spread**2
