"""Region measures: one small matrix for each region, and how much of it is the region.

Two kinds, of one unit. `sloreta` is the mean over the region's sources of the
squared sLORETA estimate. With K_r the kernel's rows of the region's n_r sources that is

    mean((K_r x)^2) = x' M x,   M = K_r' K_r / n_r,

an n_electrodes x n_electrodes matrix, so no estimate of a single source is ever
kept. The mean, unlike the sum, makes large and small regions comparable.
`selective` is the purest measure that hears enough of the region: see
`aftersit.head.selective`.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.head import selective
from aftersit.head.cortex import EvenCortex, even_cortex, good_gain
from aftersit.head.hearing import coverages, hearing, noise_gain_db, purities
from aftersit.head.measures import Curve, MeasureKind, RegionMeasures
from aftersit.head.model import Head
from aftersit.head.plausible import PlausibleHeads
from aftersit.head.region_set import RegionSet, shipped_regions
from aftersit.head.settings import HeadSettings
from aftersit.head.sloreta import sloreta_kernel
from aftersit.head.sureness import Sureness, not_known, sureness


def region_measures(
    head: Head,
    good: Sequence[str],
    settings: HeadSettings,
    regions: RegionSet | None = None,
    heads: PlausibleHeads | None = None,
    seed: int = 0,
) -> RegionMeasures:
    """Matrices of every region measure of both kinds, and what they hear.

    Parameters
    ----------
    head : Head
    good : sequence of str
        Electrodes that served; the average reference is taken over them.
    settings : HeadSettings
    regions : RegionSet, optional
        The shipped ones when left out.
    heads : PlausibleHeads, optional
        What contrasts are tried on; when left out, nothing is known of head-model error.
    seed : int
        Of the patterns of change that they are tried with.

    Raises
    ------
    AftersitError
        An electrode that the head does not have, one twice, or fewer than two.
    """
    regions = regions or shipped_regions()
    cortex = even_cortex(head, good, settings.limit_noise_share)
    plain = hearing(sloreta_matrices(head, good, regions.keys, settings, regions), regions, cortex)
    problem = selective.trade(cortex, regions.keys, regions)
    points = selective.curve(problem)
    chosen = _selective(problem, points, plain.coverage, cortex, settings)

    def sure(matrices: np.ndarray) -> Sureness:
        if heads is None:
            return not_known(len(matrices))
        return sureness(matrices, good, regions, heads, settings.plausible.change_sd_db, seed)

    return RegionMeasures(
        regions=regions,
        good=tuple(good),
        limit=problem.limit,
        covariance=cortex.covariance,
        sloreta=plain,
        selective=hearing(chosen, regions, cortex),
        curve=_curve(problem, points, regions, cortex),
        sloreta_sureness=sure(plain.matrices),
        selective_sureness=sure(chosen),
    )


def matrix_for(
    head: Head,
    good: Sequence[str],
    key: str,
    settings: HeadSettings,
    measure: MeasureKind = "sloreta",
    regions: RegionSet | None = None,
) -> np.ndarray:
    """Matrix of a single region measure; see `region_measures`.

    Parameters
    ----------
    head, good, settings, regions
        As in `region_measures`; `RegionMeasures.regions` are those of a sitting.
    key : str
        Region measure: `insula-right`.
    measure : {'sloreta', 'selective'}
        Which kind.

    Returns
    -------
    ndarray, shape (n_good, n_good)
        Per V^2: measure = x' M x.

    Raises
    ------
    AftersitError
        No such region measure, or electrodes that can't serve.
    """
    regions = regions or shipped_regions()
    plain = sloreta_matrices(head, good, [key], settings, regions)
    if measure == "sloreta":
        return plain[0]
    cortex = even_cortex(head, good, settings.limit_noise_share)
    problem = selective.trade(cortex, [key], regions)
    heard = coverages(plain, [key], regions, cortex)
    return _selective(problem, selective.curve(problem), heard, cortex, settings)[0]


def good_kernel(head: Head, good: Sequence[str], settings: HeadSettings) -> np.ndarray:
    """The sLORETA kernel of the good electrodes, shape (n_sources, n_good), per volt."""
    gain = good_gain(head, good)
    return sloreta_kernel(gain, settings.lambda2, settings.sensor_noise_uv * 1e-6)


def sloreta_matrices(
    head: Head,
    good: Sequence[str],
    keys: Sequence[str],
    settings: HeadSettings,
    regions: RegionSet,
) -> np.ndarray:
    """Matrices of the mean squared estimate over each region."""
    kernel = good_kernel(head, good, settings)
    inside = (regions.members(key, head.region, head.hemisphere) for key in keys)
    rows = (kernel[own] for own in inside)
    return np.stack([part.T @ part / len(part) for part in rows])


def _selective(
    problem: selective.Trade,
    points: np.ndarray,
    plain_coverage: np.ndarray,
    cortex: EvenCortex,
    settings: HeadSettings,
) -> np.ndarray:
    """Matrices of the purest measures that cover enough: never more than plain sLORETA does."""
    least = np.minimum(plain_coverage, settings.selective_coverage)
    return _in_unit(selective.selective_matrices(problem, points, least), cortex, settings)


def _in_unit(matrices: np.ndarray, cortex: EvenCortex, settings: HeadSettings) -> np.ndarray:
    """Scaled so that each measure is 1 when the model's expected signal comes in."""
    noise_v2 = (settings.sensor_noise_uv * 1e-6) ** 2
    brain = cortex.covariance * (len(cortex.gain) - 1) / np.trace(cortex.covariance)
    heard = np.einsum("kij,ij->k", matrices, brain) / settings.lambda2
    # Rows add up to zero, so of the noise's average reference only the trace is left.
    expected = noise_v2 * (heard + np.trace(matrices, axis1=1, axis2=2))
    return matrices / expected[:, None, None]


def _curve(
    problem: selective.Trade, points: np.ndarray, regions: RegionSet, cortex: EvenCortex
) -> Curve:
    points = [selective.matrices(problem, point) for point in points]
    return Curve(
        price=np.array(selective.PRICES),
        purity=np.stack(
            [purities(point, regions.keys, regions, cortex) for point in points], axis=1
        ),
        coverage=np.stack(
            [coverages(point, regions.keys, regions, cortex) for point in points], axis=1
        ),
        noise_gain_db=np.stack([noise_gain_db(point, cortex) for point in points], axis=1),
    )
