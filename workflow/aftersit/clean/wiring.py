"""Electrodes that hear another place than their name says: swapped, elsewhere, joined by gel."""

import numpy as np

from aftersit.clean.windows import against_others
from aftersit.sphere import on_unit_sphere

PAIRS = (("Fp1", "Fp2"), ("F7", "F8"), ("F3", "F4"), ("T7", "T8"), ("C3", "C4"), ("P7", "P8"))
PAIRS += (("P3", "P4"), ("O1", "O2"))
FEWEST_PAIRS = 4
PAIR_WIDTH, PLACE_WIDTH = 0.5, 1.0
"""Squared distance on the unit sphere over which potentials are taken to hang together."""
NOISE = 0.1
"""Of an electrode itself, over what it has in common with its surroundings."""


def swapped_pairs(typical: np.ndarray, names: list[str], margin: float) -> dict[str, float]:
    """Left and right electrodes that fit their surroundings better when exchanged.

    For each pair, left less right (each of variance 1) is predicted from the
    same difference of the other pairs, weighted by distance alone. When the
    plugs are exchanged the correlation changes its sign. The worst pair is
    exchanged back and the rest looked at anew.

    Parameters
    ----------
    typical : ndarray, shape (n_bands, n_electrodes, n_electrodes)
        Typical covariance in each band.
    names : list of str
        The electrodes.
    margin : float
        How far below zero the correlation must lie, mean over the bands.

    Returns
    -------
    dict
        Electrode -> correlation, for those suspected.
    """
    pairs = [pair for pair in PAIRS if set(pair) <= set(names)]
    found: dict[str, float] = {}
    if len(pairs) < FEWEST_PAIRS:
        return found
    differences = [_differences(c, names, pairs) for c in typical]
    weights = _weights(_pair_kernel(pairs))
    sign = np.ones(len(pairs))
    for _ in pairs:
        exchanged = np.outer(sign, sign)
        fit = np.mean([_fit(exchanged * d, weights) for d in differences], axis=0)
        worst = int(np.argmin(fit))
        if fit[worst] > -margin or pairs[worst][0] in found:
            break
        sign[worst] = -1
        found |= dict.fromkeys(pairs[worst], float(fit[worst]))
    return found


def fit_to_place(typical: np.ndarray, names: list[str]) -> np.ndarray:
    """Correlation of each electrode with what its surroundings let one expect.

    Electrode and expectation are taken less the mean of the other electrodes,
    so the reference has no part in it; an electrode that hears the reference
    itself fits no place.

    Parameters
    ----------
    typical : ndarray, shape (n_bands, n_electrodes, n_electrodes)
        Typical covariance in each band.
    names : list of str
        The electrodes.

    Returns
    -------
    ndarray, shape (n_electrodes,)
        Mean over the bands.
    """
    n = len(names)
    own = against_others(n)
    expected = np.zeros((n, n))
    kernel = _kernel(on_unit_sphere(names), PLACE_WIDTH)
    for e in range(n):
        others = np.arange(n) != e
        reference = np.eye(n) - others / (n - 1)
        seen = reference @ kernel @ reference.T
        inner = seen[np.ix_(others, others)] + NOISE / 2 * np.eye(n - 1)
        expected[e] = np.linalg.solve(inner, seen[others, e]) @ reference[others]
    return np.mean([_correlations(c, own, expected) for c in typical], axis=0)


def _kernel(places: np.ndarray, width: float) -> np.ndarray:
    return np.exp(-((places[:, None] - places) ** 2).sum(axis=2) / width)


def _pair_kernel(pairs: list[tuple[str, str]]) -> np.ndarray:
    """Expected covariance of left less right between pairs, shape (n_pairs, n_pairs)."""
    left, right = (on_unit_sphere(side) for side in zip(*pairs, strict=True))
    n = len(pairs)
    kernel = _kernel(np.concatenate([left, right]), PAIR_WIDTH)
    return kernel[:n, :n] - kernel[:n, n:] - kernel[n:, :n] + kernel[n:, n:]


def _weights(kernel: np.ndarray) -> np.ndarray:
    """Row p: how pair p is predicted from the others."""
    n = len(kernel)
    weights = np.zeros((n, n))
    for p in range(n):
        others = np.arange(n) != p
        inner = kernel[np.ix_(others, others)] + NOISE * np.diag(kernel).mean() * np.eye(n - 1)
        weights[p, others] = np.linalg.solve(inner, kernel[others, p])
    return weights


def _differences(
    covariance: np.ndarray, names: list[str], pairs: list[tuple[str, str]]
) -> np.ndarray:
    """Covariance of left less right, each electrode of variance 1 beside the others."""
    own = against_others(len(names))
    size = np.sqrt(np.diag(own @ covariance @ own.T)) + 1e-9
    matrix = np.zeros((len(pairs), len(names)))
    for row, (left, right) in zip(matrix, pairs, strict=True):
        for name, sign in ((left, 1), (right, -1)):
            row += sign * own[names.index(name)] / size[names.index(name)]
    return matrix @ covariance @ matrix.T


def _fit(differences: np.ndarray, weights: np.ndarray) -> np.ndarray:
    return _correlations(differences, np.eye(len(differences)), weights)


def _correlations(covariance: np.ndarray, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Correlation of row e of one combination with row e of the other."""
    both = ((one @ covariance) * two).sum(axis=1)
    first, second = (((m @ covariance) * m).sum(axis=1) for m in (one, two))
    return both / np.sqrt(first * second + 1e-18)
