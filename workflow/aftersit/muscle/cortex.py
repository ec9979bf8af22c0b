"""How the electrodes hear a cortex that is equally active everywhere."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from aftersit.head.sloreta import reference_basis

TABLE = Path(__file__).parents[3] / "shared" / "cortex_covariance.tsv"


@cache
def _table() -> tuple[list[str], np.ndarray]:
    """Electrodes and their covariance (a data frame would take as long as the rest to import)."""
    head, *rows = [s.split("\t") for s in TABLE.read_text().splitlines() if not s.startswith("#")]
    return head[1:], np.array([row[1:] for row in rows], float)


@cache
def cortex_covariance(good: tuple[str, ...]) -> np.ndarray:
    """Covariance under the average reference over `good`, mean power 1.

    Returns
    -------
    ndarray, shape (n_good, n_good)
    """
    names, whole = _table()
    rows = [names.index(name) for name in good]
    table = whole[np.ix_(rows, rows)]
    centred = table - table.mean(axis=0)
    centred = centred - centred.mean(axis=1, keepdims=True)
    return centred * len(good) / np.trace(centred)


def passed_share(matrix: np.ndarray, spatial_filter: np.ndarray, good: Sequence[str]) -> float:
    """Part of an equally active cortex's power in a measure that a spatial filter lets through.

    Parameters
    ----------
    matrix : ndarray, shape (n_good, n_good)
        The measure of a signal x is x' M x.
    spatial_filter : ndarray, shape (n_good, n_good)
        The filtered signal is F x.
    """
    cortex = cortex_covariance(tuple(good))
    through = spatial_filter @ cortex @ spatial_filter.T
    return float((matrix * through).sum() / (matrix * cortex).sum())


def reduced(covariances: np.ndarray) -> np.ndarray:
    """Covariances (..., n, n) in an orthonormal basis of all potentials of mean zero."""
    basis = reference_basis(covariances.shape[-1])
    return basis @ covariances @ basis.T
