"""Region measures: one small matrix for each region, and how much of it is the region.

The measure of a region is the mean over its sources of the squared sLORETA
estimate. With K_r the kernel's rows of the region's n_r sources that is

    mean((K_r x)^2) = x' M x,   M = K_r' K_r / n_r,

an n_electrodes x n_electrodes matrix, so no estimate of a single source is ever
kept. The mean, unlike the sum, makes large and small regions comparable.

Purity is the part of the measure that the region itself contributes when every
source of the cortex is active with equal variance and none with another:
trace(M C_r) / trace(M C), with C_r = L_r L_r' and C the sum over all regions. No
linear filter w can pass the largest value of w' C_r w / w' (C + noise) w, a
generalised eigenvalue; that is the limit. The noise keeps a filter from
cancelling what no real cap resolves. See Hauk et al. 2011, NeuroImage 54:1966,
for resolution matrices of linear estimates.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.atlas import HEMISPHERES, members, region_keys, region_titles, split_key
from aftersit.head.model import Head
from aftersit.head.settings import HeadSettings
from aftersit.head.sloreta import reference_basis, sloreta_kernel

UNIT = "sLORETA^2"
"""Unit of region measures, without dimension; in words: see `aftersit.head.sloreta`."""

NEIGHBOURS = 5


@dataclass(frozen=True)
class RegionMeasures:
    """All region measures for one set of good electrodes.

    Attributes
    ----------
    keys : tuple of str
        `insula-left`, `insula-right`, `insula-both`, ...
    good : tuple of str
        Electrodes, in the order of the matrices' rows and columns.
    matrices : ndarray, shape (n_keys, n_good, n_good)
        Symmetric, per V^2: measure = x' M x with x in volts, any reference.
    purity : ndarray, shape (n_keys,)
        Part of the measure that comes from the region when all cortex is equally active.
    limit : ndarray, shape (n_keys,)
        Purity that no linear filter on these electrodes can pass.
    neighbours : ndarray of str, shape (n_keys, 5)
        The other regions that weigh most: of one side for one-sided measures
        (on whichever side they lie), of both sides for `-both`.
    neighbour_shares : ndarray, shape (n_keys, 5)
        Their parts of the measure, falling.
    """

    keys: tuple[str, ...]
    good: tuple[str, ...]
    matrices: np.ndarray
    purity: np.ndarray
    limit: np.ndarray
    neighbours: np.ndarray
    neighbour_shares: np.ndarray

    def index(self, key: str) -> int:
        """Place of a measure; AftersitError when there is none of this name."""
        split_key(key)
        return self.keys.index(key)

    def matrix(self, key: str) -> np.ndarray:
        """Matrix of one measure, shape (n_good, n_good)."""
        return self.matrices[self.index(key)]

    def nearest(self, key: str) -> tuple[tuple[str, float], ...]:
        """The five neighbours of one measure with their shares."""
        i = self.index(key)
        pairs = zip(self.neighbours[i], self.neighbour_shares[i], strict=True)
        return tuple((str(name), float(share)) for name, share in pairs)


def region_measures(head: Head, good: Sequence[str], settings: HeadSettings) -> RegionMeasures:
    """Matrices and purity of every region measure.

    Parameters
    ----------
    head : Head
    good : sequence of str
        Electrodes that served; the average reference is taken over them.

    Raises
    ------
    AftersitError
        An electrode that the head does not have, one twice, or fewer than two.
    """
    keys = region_keys()
    kernel = good_kernel(head, good, settings)
    matrices = np.stack([_mean_square(kernel[_inside(head, key)]) for key in keys])
    covariances = region_covariances(head, good)
    heard = np.einsum("kij,rij->kr", matrices, covariances)
    shares = heard / heard.sum(axis=1, keepdims=True)
    neighbours, neighbour_shares = _neighbours(shares)
    return RegionMeasures(
        keys=keys,
        good=tuple(good),
        matrices=matrices,
        purity=np.array([shares[i, _halves(key)].sum() for i, key in enumerate(keys)]),
        limit=_limits(covariances, settings.limit_noise_share),
        neighbours=neighbours,
        neighbour_shares=neighbour_shares,
    )


def matrix_for(head: Head, good: Sequence[str], key: str, settings: HeadSettings) -> np.ndarray:
    """Matrix of a single region measure; see `region_measures`.

    Returns
    -------
    ndarray, shape (n_good, n_good)
        Per V^2.
    """
    inside = _inside(head, key)
    return _mean_square(good_kernel(head, good, settings)[inside])


def good_kernel(head: Head, good: Sequence[str], settings: HeadSettings) -> np.ndarray:
    """The sLORETA kernel of the good electrodes, shape (n_sources, n_good), per volt."""
    gain = head.gain[_rows(head, good)]
    return sloreta_kernel(gain, settings.lambda2, settings.sensor_noise_uv * 1e-6)


def region_covariances(head: Head, good: Sequence[str]) -> np.ndarray:
    """What electrodes hear of each region half when its sources vary alike and apart.

    Returns
    -------
    ndarray, shape (n_halves, n_good, n_good)
        C_r = L_r L_r', average reference, in the order of `half_keys`.
    """
    gain = head.gain[_rows(head, good)]
    gain = gain - gain.mean(axis=0)
    parts = (gain[:, _inside(head, key)] for key in half_keys())
    return np.stack([part @ part.T for part in parts])


def half_keys() -> tuple[str, ...]:
    """The one-sided region measures; together their sources are the whole cortex."""
    return tuple(f"{region}-{side}" for region in region_titles() for side in HEMISPHERES)


def _rows(head: Head, good: Sequence[str]) -> list[int]:
    unknown = [name for name in good if name not in head.names]
    if unknown:
        raise AftersitError(
            f"the head model has no electrode {', '.join(unknown)}; it has {', '.join(head.names)}"
        )
    if len(set(good)) < max(len(good), 2):
        raise AftersitError(
            f"region measures need at least two electrodes, each once; found {', '.join(good)}"
        )
    return [head.names.index(name) for name in good]


def _inside(head: Head, key: str) -> np.ndarray:
    return members(key, head.region, head.hemisphere)


def _halves(key: str) -> np.ndarray:
    """Which of the region halves a measure is about."""
    region, hemisphere = np.array([split_key(half) for half in half_keys()]).T
    return members(key, region, hemisphere)


def _mean_square(kernel: np.ndarray) -> np.ndarray:
    return kernel.T @ kernel / len(kernel)


def _limits(covariances: np.ndarray, noise_share: float) -> np.ndarray:
    """Largest eigenvalue of each measure's C_r against C + noise."""
    basis = reference_basis(covariances.shape[-1])
    inside = basis @ covariances @ basis.T
    whole = inside.sum(axis=0)
    noise = noise_share * np.trace(whole) / len(whole)
    # C + noise = F F'; the eigenvalues wanted are those of F^-1 C_r F'^-1.
    unmix = np.linalg.inv(np.linalg.cholesky(whole + noise * np.eye(len(whole))))
    wanted = np.stack([inside[_halves(key)].sum(axis=0) for key in region_keys()])
    return np.linalg.eigvalsh(unmix @ wanted @ unmix.T)[:, -1]


def _neighbours(shares: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    names, parts = [], []
    for key, row in zip(region_keys(), shares, strict=True):
        others = _others(key, row)
        heaviest = sorted(others, key=others.get, reverse=True)[:NEIGHBOURS]
        names.append(heaviest)
        parts.append([others[name] for name in heaviest])
    return np.array(names), np.array(parts)


def _others(key: str, row: np.ndarray) -> dict[str, float]:
    """Share of every other region, both sides together for a measure of both sides."""
    if split_key(key)[1] != "both":
        return {half: share for half, share in zip(half_keys(), row, strict=True) if half != key}
    wholes = (f"{region}-both" for region in region_titles())
    return {whole: row[_halves(whole)].sum() for whole in wholes if whole != key}


def save_region_measures(measures: RegionMeasures, path: Path) -> None:
    """Write as .npz; the same measures give the same bytes."""
    names = [field.name for field in fields(RegionMeasures)]
    save_arrays(path, {name: np.asarray(getattr(measures, name)) for name in names})


def load_region_measures(path: Path) -> RegionMeasures:
    """Read what `save_region_measures` wrote; AftersitError when it can't serve."""
    arrays = load_arrays(path)
    texts = {name: tuple(str(value) for value in arrays[name]) for name in ("keys", "good")}
    return RegionMeasures(**{**arrays, **texts})
