"""The selective measure: as pure as can be while it hears enough of its region.

The purest of all filters often hears a small part of its region only. Between it
and a measure that hears the whole region alike lies a trade. The measures on it
are the positive semidefinite M that minimise

    1/2 sum_s a_s (l_s' M l_s / a_s - 1)^2 + t tr(M (C + noise)) lambda,

with l_s what electrodes hear of source s of the region, a_s its part of the
region's area and lambda the limit of purity: each source should be heard by its
area, and hearing anything costs t. The problem is convex, so each price t between
0 and 1 has one measure, than which no other is both purer and more even; as t
rises to 1 the measure becomes the single purest filter. Evenness is that of
`hearing.coverage`. Solved by an accelerated projected gradient (Beck & Teboulle
2009, SIAM J Imaging Sci 2:183) for all regions at once, in the directions in which
each region stands out most.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from aftersit.head.cortex import EvenCortex
from aftersit.head.region_set import RegionSet

PRICES = (0.05, 0.1, 0.2, 0.3, 0.45, 0.6, 0.75, 0.9, 0.98)
"""Points of the curve, from even to pure."""
DIRECTIONS = 12
"""All 18 change no selective measure's purity by more than 0.5 % of itself."""
STEPS = 80
"""Of the gradient; six hundred change no selective measure's purity by more than 1 % of itself."""
ROUND = 10
AT_REST = 1e-4
"""Change over a round of steps, relative: then a region is done."""
HALVINGS = 5
"""Of the interval between two prices; leaves the coverage within 0.01 of what is asked."""


@dataclass(frozen=True)
class Trade:
    """What each region's trade is about; d directions, f = d (d + 1) / 2 entries of M.

    Attributes
    ----------
    limit : ndarray, shape (n_keys,)
        Purity of the purest filter.
    back : ndarray, shape (n_keys, n_good, d)
        From the directions to the electrodes: M = back X back'.
    even : ndarray, shape (n_keys, f, f)
        Quadratic form of the entries: sum_s o_s^2 / a_s.
    region : ndarray, shape (n_keys, f)
        Linear form of the entries: sum_s o_s, at most the trace.
    """

    limit: np.ndarray
    back: np.ndarray
    even: np.ndarray
    region: np.ndarray

    @property
    def directions(self) -> int:
        """How many there are."""
        return self.back.shape[2]


def trade(cortex: EvenCortex, keys: Sequence[str], regions: RegionSet) -> Trade:
    """Set the trade up for some regions."""
    heard = cortex.whitener @ cortex.gain
    parts = []
    for key in keys:
        inside = regions.members(key, cortex.region, cortex.hemisphere)
        area = cortex.area_mm2[inside] / cortex.area_mm2[inside].sum()
        parts.append(_one_trade(heard[:, inside], area, cortex.whitener))
    return Trade(*(np.stack(column) for column in zip(*parts, strict=True)))


def _one_trade(heard: np.ndarray, area: np.ndarray, whitener: np.ndarray) -> tuple:
    values, vectors = np.linalg.eigh(heard @ heard.T)
    # Scaled so that the limit of purity becomes 1 and prices mean the same everywhere.
    chosen = vectors[:, ::-1][:, :DIRECTIONS] / np.sqrt(values[-1])
    first, second, scale = _entries(chosen.shape[1])
    seen = chosen.T @ heard
    products = seen[first] * seen[second] * scale[:, None]
    return values[-1], whitener.T @ chosen, (products / area) @ products.T, products.sum(axis=1)


@cache
def _entries(d: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rows and columns of the upper triangle, and weights that keep inner products."""
    rows, columns = np.triu_indices(d)
    return rows, columns, np.where(rows == columns, 1.0, np.sqrt(2))


def solve(problem: Trade, price: np.ndarray, start: np.ndarray | None = None) -> np.ndarray:
    """Best measure of each region at its price.

    Parameters
    ----------
    problem : Trade
    price : ndarray, shape (n_keys,)
        Between 0 and 1.
    start : ndarray, shape (n_keys, f), optional
        Where to begin; speed only.

    Returns
    -------
    ndarray, shape (n_keys, f)
        Entries of X, as `_entries` orders them.
    """
    x = np.zeros_like(problem.region) if start is None else start.copy()
    step = 1 / np.linalg.eigvalsh(problem.even)[:, -1:]
    target = problem.region - price[:, None] * _trace_form(problem.directions)
    ahead, momentum, moving = x.copy(), 1.0, np.arange(len(x))
    for _ in range(0, STEPS, ROUND):
        before, even = x[moving], problem.even[moving]
        for _ in range(ROUND):
            slope = np.matmul(even, ahead[moving, :, None])[:, :, 0] - target[moving]
            following = _to_semidefinite(ahead[moving] - step[moving] * slope, problem.directions)
            growth = (1 + np.sqrt(1 + 4 * momentum**2)) / 2
            ahead[moving] = following + (momentum - 1) / growth * (following - x[moving])
            x[moving], momentum = following, growth
        # Most regions rest after some thirty steps; they are left out of the rest.
        moved = np.linalg.norm(x[moving] - before, axis=1)
        moving = moving[moved > AT_REST * np.linalg.norm(x[moving], axis=1)]
    return x


def _trace_form(d: int) -> np.ndarray:
    rows, columns, _ = _entries(d)
    return (rows == columns).astype(float)


def _to_semidefinite(entries: np.ndarray, d: int) -> np.ndarray:
    """The nearest positive semidefinite matrices."""
    rows, columns, scale = _entries(d)
    values, vectors = np.linalg.eigh(_square(entries, d))
    kept = (vectors * np.maximum(values, 0)[:, None, :]) @ vectors.transpose(0, 2, 1)
    return kept[:, rows, columns] * scale


def _square(entries: np.ndarray, d: int) -> np.ndarray:
    """Entries as symmetric matrices, shape (n_keys, d, d)."""
    rows, columns, scale = _entries(d)
    square = np.empty((len(entries), d, d))
    square[:, rows, columns] = square[:, columns, rows] = entries / scale
    return square


def coverage_of(problem: Trade, entries: np.ndarray) -> np.ndarray:
    """Coverage of each measure, shape (n_keys,)."""
    total = np.sum(problem.region * entries, axis=1)
    uneven = np.einsum("ki,kij,kj->k", entries, problem.even, entries, optimize=True)
    return total**2 / uneven


def curve(problem: Trade) -> np.ndarray:
    """Entries of the measures along the trade, shape (len(PRICES), n_keys, f)."""
    found: list[np.ndarray] = []
    for price in PRICES:
        start = found[-1] if found else None
        found.append(solve(problem, np.full(len(problem.region), price), start))
    return np.stack(found)


def matrices(problem: Trade, entries: np.ndarray) -> np.ndarray:
    """Matrices over the electrodes, shape (n_keys, n_good, n_good), no unit."""
    square = _square(entries, problem.directions)
    return problem.back @ square @ problem.back.transpose(0, 2, 1)


def selective_matrices(
    problem: Trade, points: np.ndarray, least_coverage: np.ndarray
) -> np.ndarray:
    """The purest measures that cover at least so much of their regions.

    Where even the purest filter covers enough, it is taken; where nothing covers
    enough, the most even measure.

    Parameters
    ----------
    problem : Trade
    points : ndarray, shape (len(PRICES), n_keys, f)
        From `curve`.
    least_coverage : ndarray, shape (n_keys,)

    Returns
    -------
    ndarray, shape (n_keys, n_good, n_good)
        No unit.
    """
    enough = np.stack([coverage_of(problem, point) for point in points]) >= least_coverage
    last = np.maximum(enough.sum(axis=0) - 1, 0)
    low = np.array(PRICES)[last]
    high = np.array(PRICES)[np.minimum(last + 1, len(PRICES) - 1)]
    entries = points[last, np.arange(len(low))]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        trial = solve(problem, middle, entries)
        enough = coverage_of(problem, trial) >= least_coverage
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
        entries = np.where(enough[:, None], trial, entries)
    return matrices(problem, entries)
