"""Region measures that no head was needed for: random filters, invented shares."""

from collections.abc import Sequence

import numpy as np

from aftersit.head.hearing import Hearing
from aftersit.head.measures import Curve, RegionMeasures
from aftersit.head.region_set import RegionSet
from aftersit.head.sureness import Sureness


def fake_measures(names: Sequence[str], seed: int = 8) -> RegionMeasures:
    """Random region matrices over some electrodes, as the mean square of 30 random filters."""
    rng = np.random.default_rng(seed)
    n_keys, n = len(RegionSet().keys), len(names)

    def hearing() -> Hearing:
        filters = rng.normal(size=(n_keys, 30, n)) * 1e5
        return Hearing(
            matrices=np.einsum("kij,kil->kjl", filters, filters) / 30,
            purity=rng.uniform(0.05, 0.11, n_keys),
            coverage=rng.uniform(0.6, 0.9, n_keys),
            noise_gain_db=rng.uniform(2, 6, n_keys),
            other_side_db=rng.uniform(3, 7, n_keys),
            neighbours=np.array([["cuneus-left"] * 5] * n_keys),
            neighbour_shares=np.full((n_keys, 5), 0.07),
        )

    curve = rng.uniform(0.1, 0.9, (3, n_keys, 2))
    other = np.random.default_rng(seed + 1)
    sureness = Sureness(*other.uniform(0.1, 0.9, (2, n_keys)), other.uniform(0.1, 0.9, (n_keys, 3)))
    return RegionMeasures(
        regions=RegionSet(),
        good=tuple(names),
        limit=rng.uniform(0.12, 0.2, n_keys),
        covariance=np.cov(rng.normal(size=(n, 40))),
        sloreta=hearing(),
        selective=hearing(),
        curve=Curve(np.array([0.2, 0.7]), *curve),
        sloreta_sureness=sureness,
        selective_sureness=sureness,
    )
