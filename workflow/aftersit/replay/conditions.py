"""What a protocol's conditions become for one sitting: measures, refusals, cautions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.head.regions import UNIT, RegionMeasures
from aftersit.protocol import BaselineThreshold, Condition, ElectrodePlace, Timing
from aftersit.quality import Quality
from aftersit.record import Caution, ConditionResult, Purity, Refusal
from aftersit.replay.engine import Measure, quadratic_root
from aftersit.replay.filters import band_pass, group_delay_s, settle_s
from aftersit.replay.settings import ReplaySettings

_SQUARE_UV_PER_SQUARE_V = 1e12


@dataclass(frozen=True)
class Delays:
    """How late a condition is, in seconds."""

    filter_s: float
    settle_s: float
    smoothing_s: float

    @property
    def unknown_s(self) -> float:
        """Time after a start in which nothing is known."""
        return self.settle_s + self.smoothing_s


def rests_on_baseline(condition: Condition) -> bool:
    """Whether the threshold needs a baseline block."""
    return isinstance(condition.threshold, BaselineThreshold)


def delays(
    condition: Condition, timing: Timing, rate_hz: float, settings: ReplaySettings
) -> Delays:
    """Delays of a condition's band-pass and moving mean."""
    sos = band_pass(condition.band_hz, rate_hz, settings.filter_order)
    return Delays(
        group_delay_s(sos, condition.band_hz, rate_hz),
        settle_s(sos, rate_hz, settings.settle_energy),
        timing.smoothing_s,
    )


def electrode_matrix(names: Sequence[str], wanted: Sequence[str]) -> np.ndarray:
    """Quadratic form of the mean power of some electrodes, in uV^2 for volts."""
    inside = np.array([name in wanted for name in names], dtype=float)
    return np.diag(inside * _SQUARE_UV_PER_SQUARE_V / len(wanted))


def measure(
    condition: Condition,
    names: Sequence[str],
    region_matrices: Mapping[str, np.ndarray],
    rate_hz: float,
    settings: ReplaySettings,
) -> Measure:
    """The measure of a condition over the channels `names`."""
    place = condition.where
    if isinstance(place, ElectrodePlace):
        matrix = electrode_matrix(names, place.electrodes)
    else:
        matrix = region_matrices[place.key]
    sos = band_pass(condition.band_hz, rate_hz, settings.filter_order)
    return Measure(sos, quadratic_root(matrix))


def refusal(condition: Condition, quality: Quality, regions: RegionMeasures) -> Refusal | None:
    """Why a condition can't be run on a recording, baseline aside."""
    place = condition.where
    if not quality.carried.holds(condition.band_hz) or not _sampled(condition, quality.rate_hz):
        return "band-not-in-recording"
    if isinstance(place, ElectrodePlace):
        return None if set(place.electrodes) <= set(quality.good) else "electrode-missing"
    return None if place.key in regions.keys else "region-unknown"


def _sampled(condition: Condition, rate_hz: float) -> bool:
    return condition.band_hz[1] < rate_hz / 2


def describe(
    condition: Condition,
    regions: RegionMeasures,
    refused: Refusal | None,
    cautions: Sequence[Caution],
    late: Delays | None,
) -> ConditionResult:
    """The condition as the record keeps it; delays are None when its band is not there."""
    place, rule = condition.where, condition.threshold
    electrodes, relative = isinstance(place, ElectrodePlace), rests_on_baseline(condition)
    return ConditionResult(
        name=condition.name,
        place=place.key,
        kind="electrodes" if electrodes else "region",
        band_hz=condition.band_hz,
        direction=condition.direction,
        rule="db-over-baseline" if relative else "absolute",
        rule_value=rule.db_over_baseline if relative else rule.absolute,
        unit="uV^2" if electrodes else UNIT,
        refused=refused,
        cautions=tuple(cautions),
        filter_delay_s=late and late.filter_s,
        settle_s=late and late.settle_s,
        smoothing_delay_s=late and late.smoothing_s / 2,
        purity=None if electrodes else _purity(place.key, regions),
    )


def _purity(key: str, regions: RegionMeasures) -> Purity | None:
    if key not in regions.keys:
        return None
    i = regions.index(key)
    return Purity(
        share=float(regions.purity[i]),
        limit=float(regions.limit[i]),
        neighbours=regions.nearest(key),
    )
