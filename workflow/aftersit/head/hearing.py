"""What region measures hear of an evenly active cortex.

Purity is the part of a measure x' M x that the region itself contributes:
tr(M C_r) / tr(M (C + noise)), with C_r = L_r L_r' and C the sum over all regions.
No linear filter passes the largest value of w' C_r w / w' (C + noise) w, a
generalised eigenvalue; that is the limit, and no mean over filters passes it
either. See Hauk et al. 2011, NeuroImage 54:1966, for resolution matrices of
linear estimates.

Coverage is the part of the region's area that the measure hears. With o_s the
part of a source in what comes from the region and a_s its part of the area it is
1 / sum(o_s^2 / a_s): the effective number (Kish 1965, Survey Sampling, section
8.2; from memory), 1 when all parts are heard alike and k when a part k of the area
is heard alike and nothing else.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.head.atlas import half_keys, region_titles
from aftersit.head.cortex import EvenCortex
from aftersit.head.region_set import RegionSet

NEIGHBOURS = 5


@dataclass(frozen=True)
class Hearing:
    """Measures of one kind for all keys, and what they hear.

    Attributes
    ----------
    matrices : ndarray, shape (n_keys, n_good, n_good)
        Symmetric, per V^2: measure = x' M x with x in volts, any reference.
    purity : ndarray, shape (n_keys,)
        Part of the measure that comes from the region when all cortex is equally active.
    coverage : ndarray, shape (n_keys,)
        Part of the region's area that is heard, 0 to 1.
    noise_gain_db : ndarray, shape (n_keys,)
        How much worse the measure's ratio of brain to electrode noise is than an
        electrode's, on average over electrodes; negative when it is better.
    other_side_db : ndarray, shape (n_keys,)
        Left-right separability: what it hears of its own region over what it hears
        of the same region on the other side; nan for both sides together.
    neighbours : ndarray of str, shape (n_keys, 5)
        The atlas regions outside that weigh most: of one side for one-sided measures
        (on whichever side they lie), of both sides for `-both`.
    neighbour_shares : ndarray, shape (n_keys, 5)
        Their parts of the measure, falling.
    """

    matrices: np.ndarray
    purity: np.ndarray
    coverage: np.ndarray
    noise_gain_db: np.ndarray
    other_side_db: np.ndarray
    neighbours: np.ndarray
    neighbour_shares: np.ndarray


@dataclass(frozen=True)
class Heard:
    """What one measure hears; see `Hearing`.

    `limit` is the purity that no filter passes, `contrast_spread_db` what a contrast
    between blocks is off by through head-model error; see `Sureness`.
    """

    purity: float
    limit: float
    coverage: float
    noise_gain_db: float
    other_side_db: float | None
    contrast_spread_db: float | None
    neighbours: tuple[tuple[str, float], ...]


def hearing(matrices: np.ndarray, regions: RegionSet, cortex: EvenCortex) -> Hearing:
    """What measures hear, one for each of the regions' keys.

    Parameters
    ----------
    matrices : ndarray, shape (n_keys, n_good, n_good)
    regions : RegionSet
    cortex : EvenCortex
        Of the same electrodes.
    """
    shares = _shares(matrices, cortex)
    names, neighbour_shares = _neighbours(shares, regions)
    return Hearing(
        matrices=matrices,
        purity=_of_region(shares, regions.keys, regions),
        coverage=coverages(matrices, regions.keys, regions, cortex),
        noise_gain_db=noise_gain_db(matrices, cortex),
        other_side_db=_other_side_db(shares, regions),
        neighbours=names,
        neighbour_shares=neighbour_shares,
    )


def noise_gain_db(matrices: np.ndarray, cortex: EvenCortex) -> np.ndarray:
    """Noise over brain in each measure, over the same in the electrodes; shape (n_keys,)."""
    noise = np.trace(matrices, axis1=1, axis2=2) / (len(cortex.gain) - 1)
    brain = np.einsum("kij,ij->k", matrices, cortex.covariance) / np.trace(cortex.covariance)
    return 10 * np.log10(noise / brain)


def purities(
    matrices: np.ndarray, keys: Sequence[str], regions: RegionSet, cortex: EvenCortex
) -> np.ndarray:
    """Purity of each measure, shape (n_keys,)."""
    return _of_region(_shares(matrices, cortex), keys, regions)


def _shares(matrices: np.ndarray, cortex: EvenCortex) -> np.ndarray:
    """Part of each measure that each region and side gives, shape (n_keys, 68); the rest is noise.

    Also `cortex.noise` times the trace: rows add up to zero, so that nothing else of
    the noise's average reference is left.
    """
    heard = matrices.reshape(len(matrices), -1) @ cortex.halves.reshape(len(cortex.halves), -1).T
    total = heard.sum(axis=1) + cortex.noise * np.trace(matrices, axis1=1, axis2=2)
    return heard / total[:, None]


def _of_region(values: np.ndarray, keys: Sequence[str], regions: RegionSet) -> np.ndarray:
    """Sum over each key's own halves; values of shape (n_keys, 68)."""
    own = np.stack([regions.halves(key) for key in keys])
    return np.sum(values * own, axis=1)


def _other_side_db(shares: np.ndarray, regions: RegionSet) -> np.ndarray:
    opposite = {"left": "right", "right": "left", "both": "both"}
    split = [regions.split(key) for key in regions.keys]
    mirrored = tuple(f"{name}-{opposite[side]}" for name, side in split)
    own, other = (_of_region(shares, keys, regions) for keys in (regions.keys, mirrored))
    one_sided = np.array([side != "both" for _, side in split])
    return np.where(one_sided, 10 * np.log10(own / other), np.nan)


def coverages(
    matrices: np.ndarray, keys: Sequence[str], regions: RegionSet, cortex: EvenCortex
) -> np.ndarray:
    """Coverage of each measure, shape (n_keys,)."""
    found = []
    for key, matrix in zip(keys, matrices, strict=True):
        inside = regions.members(key, cortex.region, cortex.hemisphere)
        gain = cortex.gain[:, inside]
        found.append(coverage(np.sum(gain * (matrix @ gain), axis=0), cortex.area_mm2[inside]))
    return np.array(found)


def coverage(power: np.ndarray, area: np.ndarray) -> float:
    """Part of an area that is heard.

    Parameters
    ----------
    power : ndarray, shape (n_sources,)
        What is heard of each source.
    area : ndarray, shape (n_sources,)
        Of each source; only its parts matter.
    """
    return float(power.sum() ** 2 / np.sum(power**2 / area) / area.sum())


def _neighbours(shares: np.ndarray, regions: RegionSet) -> tuple[np.ndarray, np.ndarray]:
    names, parts = [], []
    for key, row in zip(regions.keys, shares, strict=True):
        others = _others(key, row, regions)
        heaviest = sorted(others, key=others.get, reverse=True)[:NEIGHBOURS]
        names.append(heaviest)
        parts.append([others[name] for name in heaviest])
    return np.array(names), np.array(parts)


def _others(key: str, row: np.ndarray, regions: RegionSet) -> dict[str, float]:
    """Share of every other atlas region, both sides together for a measure of both sides."""
    own = regions.halves(key)
    outside = {
        half: share for half, share, inside in zip(half_keys(), row, own, strict=True) if not inside
    }
    if regions.split(key)[1] != "both":
        return outside
    return {
        f"{region}-both": outside[f"{region}-left"] + outside[f"{region}-right"]
        for region in region_titles()
        if f"{region}-left" in outside
    }
