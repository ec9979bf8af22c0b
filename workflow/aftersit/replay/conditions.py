"""What a protocol's conditions become for one sitting: measures, refusals, cautions."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.measures import OTHER, UNITS, MeasureKind, RegionMeasures
from aftersit.protocol import ArtefactGate, Condition, ElectrodePlace
from aftersit.protocol_rules import FixedRule
from aftersit.quality import Quality
from aftersit.record import Caution, ConditionResult, Purity, Refusal
from aftersit.replay.engine import Measure, each_electrode, quadratic_root
from aftersit.replay.filters import band_pass, group_delay_s, settle_s, with_notches
from aftersit.replay.settings import ReplaySettings

_UV_PER_V = 1e6
RELATIVE_UNIT = "ratio"
_GATE_RATE_SHARE = 0.45
"""A gate's band ends at this share of the sampling rate at most."""


Passed = Callable[[np.ndarray, tuple[float, float]], float]
"""A measure's matrix and a band -> part of the power that cleaning let through."""


def all_passed(_matrix: np.ndarray, _band_hz: tuple[float, float]) -> float:
    """Where nothing was taken out."""
    return 1.0


@dataclass(frozen=True)
class Track:
    """What the engine runs for one condition.

    Attributes
    ----------
    measure : Measure
    reference : Measure or None
        What relative power is divided by.
    settle_s : float
        Time after a start until the filters have settled.
    """

    measure: Measure
    reference: Measure | None
    settle_s: float

    @property
    def measures(self) -> list[Measure]:
        return [self.measure] if self.reference is None else [self.measure, self.reference]


@dataclass(frozen=True)
class Delays:
    """How late a condition is, in seconds."""

    filter_s: float
    settle_s: float
    smoothing_s: float


def delays(
    condition: Condition,
    smoothing_s: float,
    rate_hz: float,
    mains_hz: float | None,
    settings: ReplaySettings,
) -> Delays:
    """Delays of a condition's band-pass and moving mean: the longer of both replays'.

    Parameters
    ----------
    mains_hz : float or None
        What the uncleaned replay takes out by notches, which only make it later.
    """
    each = [
        sos for b in condition.bands_hz for sos in _both_replays(b, rate_hz, mains_hz, settings)
    ]
    return Delays(
        max(group_delay_s(sos, condition.band_hz, rate_hz) for sos in each[:2]),
        max(settle_s(sos, rate_hz, settings.settle_energy) for sos in each),
        smoothing_s,
    )


def _both_replays(
    band_hz: tuple[float, float], rate_hz: float, mains_hz: float | None, settings: ReplaySettings
) -> tuple[np.ndarray, np.ndarray]:
    """Filters of the cleaned replay and of the uncleaned one."""
    sos = band_pass(band_hz, rate_hz, settings.filter_order)
    notched = with_notches(sos, mains_hz, rate_hz, settings.notch_quality, settings.notch_heard_db)
    return sos, notched


def electrode_matrix(names: Sequence[str], wanted: Sequence[str]) -> np.ndarray:
    """Quadratic form of the mean power of some electrodes, in uV^2 for volts."""
    inside = np.array([name in wanted for name in names], dtype=float)
    return np.diag(inside * _UV_PER_V**2 / len(wanted))


def matrix_of(
    condition: Condition, names: Sequence[str], region_matrices: Mapping[str, np.ndarray]
) -> np.ndarray:
    """Quadratic form of a condition's measure over the channels `names`, for volts."""
    place = condition.where
    if isinstance(place, ElectrodePlace):
        return electrode_matrix(names, place.electrodes)
    return region_matrices[place.measure_key]


def track(
    condition: Condition,
    names: Sequence[str],
    region_matrices: Mapping[str, np.ndarray],
    rate_hz: float,
    mains_hz: float | None,
    settings: ReplaySettings,
    passed: Passed = all_passed,
) -> Track:
    """What the engine runs for a condition over the channels `names`.

    Parameters
    ----------
    region_matrices : mapping
        `measure_key` of a region place -> matrix over `names`.
    mains_hz : float or None
        Where the signal still has its mains: taken out by causal notches.
    passed : Passed
        What is to be made up for.
    """
    matrix = matrix_of(condition, names, region_matrices)
    bands = [_both_replays(b, rate_hz, mains_hz, settings)[1] for b in condition.bands_hz]
    measure, *reference = (
        Measure(sos, quadratic_root(matrix / passed(matrix, band_hz)))
        for sos, band_hz in zip(bands, condition.bands_hz, strict=True)
    )
    settled = max(settle_s(sos, rate_hz, settings.settle_energy) for sos in bands)
    return Track(measure, reference[0] if reference else None, settled)


def gate_measure(
    gate: ArtefactGate,
    n_channels: int,
    rate_hz: float,
    mains_hz: float | None,
    settings: ReplaySettings,
) -> Measure:
    """The largest swing on any electrode, in uV; `mains_hz` as in `track`.

    Raises
    ------
    AftersitError
        The recording is too slow for the gate's band.
    """
    low, high = gate.band_hz
    high = min(high, _GATE_RATE_SHARE * rate_hz)
    if not low < high:
        raise AftersitError(
            f"artefact_gate.band_hz begins at {low:g} Hz, and a recording of {rate_hz:g} samples "
            f"a second is heard up to {high:g} Hz: make a version of the protocol that begins lower"
        )
    _, sos = _both_replays((low, high), rate_hz, mains_hz, settings)
    return Measure(sos, each_electrode(n_channels, _UV_PER_V), peak=True)


def refusal(condition: Condition, quality: Quality, regions: RegionMeasures) -> Refusal | None:
    """Why a condition can't be run on a recording, baseline aside."""
    place = condition.where
    if not all(_in_recording(band, quality) for band in condition.bands_hz):
        return "band-not-in-recording"
    if isinstance(place, ElectrodePlace):
        return None if set(place.electrodes) <= set(quality.good) else "electrode-missing"
    return None if place.key in regions.keys else "region-unknown"


def _in_recording(band_hz: tuple[float, float], quality: Quality) -> bool:
    return quality.carried.holds(band_hz) and band_hz[1] < quality.rate_hz / 2


def unit_of(condition: Condition) -> str:
    """Unit of a condition's measure."""
    if condition.relative_to_hz:
        return RELATIVE_UNIT
    place = condition.where
    return "uV^2" if isinstance(place, ElectrodePlace) else UNITS[place.measure]


def describe(
    condition: Condition,
    regions: RegionMeasures,
    refused: Refusal | None,
    cautions: Sequence[Caution],
    late: Delays | None,
) -> ConditionResult:
    """The condition as the record keeps it; delays are None when its band is not there."""
    place, electrodes = condition.where, isinstance(condition.where, ElectrodePlace)
    return ConditionResult(
        name=condition.name,
        place=place.key,
        kind="electrodes" if electrodes else "region",
        measure="sensor" if electrodes else place.measure,
        band_hz=condition.band_hz,
        relative_to_hz=condition.relative_to_hz,
        direction=condition.direction,
        **_rule(condition),
        unit=unit_of(condition),
        refused=refused,
        cautions=tuple(cautions),
        filter_delay_s=late and late.filter_s,
        settle_s=late and late.settle_s,
        smoothing_delay_s=late and late.smoothing_s / 2,
        purity=None if electrodes else _purity(place.key, place.measure, regions),
        other_purity=None if electrodes else _purity(place.key, OTHER[place.measure], regions),
    )


def _rule(condition: Condition) -> dict:
    name, value = _fixed(condition.start_rule)
    if not condition.is_adaptive:
        return {"rule": name, "rule_value": value}
    moves = condition.threshold.adaptive
    return {
        "rule": "adaptive",
        "rule_value": moves.target_rate,
        "speed_db_per_min": moves.speed_db_per_min,
        "start_rule": name,
        "start_value": value,
    }


def _fixed(rule: FixedRule) -> tuple[str, float]:
    """Name of a fixed rule, as records write it, and its number."""
    [(key, value)] = rule.model_dump().items()
    return key.replace("_", "-"), value


def _purity(key: str, measure: MeasureKind, regions: RegionMeasures) -> Purity | None:
    if key not in regions.keys:
        return None
    heard = regions.heard(key, measure)
    return Purity(
        share=heard.purity,
        limit=heard.limit,
        coverage=heard.coverage,
        noise_gain_db=heard.noise_gain_db,
        other_side_db=heard.other_side_db,
        contrast_spread_db=heard.contrast_spread_db,
        neighbours=heard.neighbours,
    )
