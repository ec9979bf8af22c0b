"""The measures of all regions for one set of good electrodes, as they are kept.

The unit, in words: a measure of 1 is what the model expects when every electrode
carries `sensor_noise_uv` of noise and, on average over the electrodes, `snr`
times as much signal from an evenly active cortex. It has no dimension.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Literal

import numpy as np

from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.hearing import Heard, Hearing
from aftersit.head.leakage import co_variation
from aftersit.head.region_set import RegionSet
from aftersit.head.sureness import Sureness

MeasureKind = Literal["sloreta", "selective"]

UNITS: dict[MeasureKind, str] = {"sloreta": "sLORETA^2", "selective": "selective units"}
"""Names of the one unit by the kind of measure."""
OTHER: dict[MeasureKind, MeasureKind] = {"sloreta": "selective", "selective": "sloreta"}
"""The measure that is reported beside one."""


@dataclass(frozen=True)
class Curve:
    """The trade of purity against coverage, from even to pure.

    Attributes
    ----------
    price : ndarray, shape (n_points,)
        See `aftersit.head.selective`.
    purity, coverage, noise_gain_db : ndarray, shape (n_keys, n_points)
        As in `Hearing`.
    """

    price: np.ndarray
    purity: np.ndarray
    coverage: np.ndarray
    noise_gain_db: np.ndarray


@dataclass(frozen=True)
class RegionMeasures:
    """All region measures for one set of good electrodes.

    Attributes
    ----------
    regions : RegionSet
        What is measured: atlas regions and unions of them.
    good : tuple of str
        Electrodes, in the order of the matrices' rows and columns.
    limit : ndarray, shape (n_keys,)
        Purity that no linear filter on these electrodes can pass.
    covariance : ndarray, shape (n_good, n_good)
        What these electrodes hear of an evenly active cortex, (V/(A m))^2.
    sloreta, selective : Hearing
        The measures of each kind with purity, coverage, noise gain and neighbours.
    curve : Curve
        Every trade that a selective measure could make.
    sloreta_sureness, selective_sureness : Sureness
        What head-model error does to a contrast between blocks.
    """

    regions: RegionSet
    good: tuple[str, ...]
    limit: np.ndarray
    covariance: np.ndarray
    sloreta: Hearing
    selective: Hearing
    curve: Curve
    sloreta_sureness: Sureness
    selective_sureness: Sureness

    @property
    def keys(self) -> tuple[str, ...]:
        """`insula-left`, `insula-right`, `insula-both`, ..."""
        return self.regions.keys

    def of(self, measure: MeasureKind) -> Hearing:
        """The measures of one kind."""
        return self.sloreta if measure == "sloreta" else self.selective

    def sureness(self, measure: MeasureKind) -> Sureness:
        """What head-model error does to the measures of one kind."""
        return self.sloreta_sureness if measure == "sloreta" else self.selective_sureness

    def index(self, key: str) -> int:
        """Place of a measure; AftersitError when there is none of this name."""
        self.regions.split(key)
        return self.keys.index(key)

    def matrix(self, key: str, measure: MeasureKind = "sloreta") -> np.ndarray:
        """Matrix of one measure, shape (n_good, n_good), per V^2."""
        return self.of(measure).matrices[self.index(key)]

    def heard(self, key: str, measure: MeasureKind = "sloreta") -> Heard:
        """Purity, limit, coverage, noise gain, separability and neighbours of one measure."""
        i, found = self.index(key), self.of(measure)
        pairs = zip(found.neighbours[i], found.neighbour_shares[i], strict=True)
        return Heard(
            purity=float(found.purity[i]),
            limit=float(self.limit[i]),
            coverage=float(found.coverage[i]),
            noise_gain_db=float(found.noise_gain_db[i]),
            other_side_db=_known(found.other_side_db[i]),
            contrast_spread_db=_known(self.sureness(measure).spread_db[i]),
            neighbours=tuple((str(name), float(share)) for name, share in pairs),
        )

    def co_variation(self, matrices: Sequence[np.ndarray]) -> np.ndarray:
        """Correlations of measures on these electrodes that leakage alone produces.

        Parameters
        ----------
        matrices : sequence of ndarray, each of shape (n_good, n_good)
            From `matrix`, or of electrode groups (diagonal).

        Returns
        -------
        ndarray, shape (n_measures, n_measures)
            See `aftersit.head.leakage.co_variation`.
        """
        return co_variation(np.stack(matrices), self.covariance)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


_PARTS = {
    "sloreta": Hearing,
    "selective": Hearing,
    "curve": Curve,
    "sloreta_sureness": Sureness,
    "selective_sureness": Sureness,
}


def save_region_measures(measures: RegionMeasures, path: Path) -> None:
    """Write as .npz; the same measures give the same bytes."""
    arrays = {name: np.asarray(getattr(measures, name)) for name in ("good", "limit", "covariance")}
    for part in _PARTS:
        inner = getattr(measures, part)
        arrays |= {f"{part}.{f.name}": getattr(inner, f.name) for f in fields(inner)}
    names = [name for name, parts in measures.regions.unions for _ in parts]
    arrays["union"] = np.array(names, dtype=str)
    arrays["union_part"] = np.array([p for _, ps in measures.regions.unions for p in ps], dtype=str)
    save_arrays(path, arrays)


def load_region_measures(path: Path) -> RegionMeasures:
    """Read what `save_region_measures` wrote; AftersitError when it can't serve."""
    arrays = load_arrays(path)
    pairs = list(zip(arrays["union"].tolist(), arrays["union_part"].tolist(), strict=True))
    unions = {name: [part for of, part in pairs if of == name] for name, _ in pairs}

    def part(name: str, kind: type):
        return kind(**{f.name: arrays[f"{name}.{f.name}"] for f in fields(kind)})

    return RegionMeasures(
        regions=RegionSet().with_unions(unions),
        good=tuple(arrays["good"].tolist()),
        limit=arrays["limit"],
        covariance=arrays["covariance"],
        **{name: part(name, kind) for name, kind in _PARTS.items()},
    )
