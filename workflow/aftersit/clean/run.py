"""The whole stage on one recording: signal in, cleaned signal and account out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aftersit.clean.carried import ChannelLimits
from aftersit.clean.components import Removal, decompose, label_and_remove
from aftersit.clean.drowsy import measure_drowsy
from aftersit.clean.eyes import take_out_eyes
from aftersit.clean.faults import Faults, look_for_faults
from aftersit.clean.find_spans import gross_spans, spans_after
from aftersit.clean.fit_copy import fit_copy
from aftersit.clean.heart import find_heart, remove_heart
from aftersit.clean.settings import CleanSettings
from aftersit.clean.sitting import Sitting
from aftersit.clean.spans import bad_samples, joined
from aftersit.muscle.remove import learn_pattern, remove_fast_muscle
from aftersit.quality import (
    BadSpan,
    Carried,
    DrowsySigns,
    HeartFound,
    MusclePattern,
    Quality,
    UnusableReason,
)

if TYPE_CHECKING:
    import mne

FEWEST_FOR_COMPONENTS = 6
SHORTEST_FIT_S = 20.0
"""Below either, components mean nothing and none are removed."""


@dataclass(frozen=True)
class Cleaned:
    """A cleaned recording.

    Attributes
    ----------
    data_uv : ndarray of float32, shape (n_good, n_samples)
        Good electrodes, average reference, microvolts.
    names : list of str
        The good electrodes, in the standard order.
    quality : Quality
        The account.
    """

    data_uv: np.ndarray
    names: list[str]
    quality: Quality


def clean_recording(
    raw: mne.io.BaseRaw,
    limits: ChannelLimits,
    prior_mains_hz: float | None,
    settings: CleanSettings,
    seed: int,
) -> Cleaned:
    """Clean one recording.

    Parameters
    ----------
    raw : mne.io.BaseRaw
        Standard electrodes by their 10-20 names, in volts, and further
        channels, typed; not changed.
    limits : ChannelLimits
        Filters that the header names.
    prior_mains_hz : float | None
        Mains frequency that the sidecar states.
    settings : CleanSettings
        Section `clean` of the settings version.
    seed : int
        Of the component fit.

    Returns
    -------
    Cleaned
        Mains removed, high-passed, average reference over the good electrodes,
        without the removed components, and what is fast without muscle's pattern;
        else as recorded.
    """
    seen = look_for_faults(raw, limits, prior_mains_hz, settings)
    sitting, good = seen.sitting, seen.found.good
    heart = _remove_heart(sitting, good, seen.bad)
    removal = _remove_components(sitting, good, seen.bad, seen.carried, seed)
    data = _without_components(sitting, good, removal)
    bad = seen.bad + spans_after(data, sitting, good)
    lost = bad_samples(bad, sitting.rate_hz, sitting.n_samples)
    drowsy = measure_drowsy(data, good, sitting.rate_hz, lost, seen.slow, limits.low_hz)
    pattern = learn_pattern(data, seen, bad)
    remove_fast_muscle(data, sitting.rate_hz, pattern)
    return Cleaned(data, good, _account(seen, bad, removal, heart, drowsy, pattern))


def _remove_heart(sitting: Sitting, good: list[str], bad: list[BadSpan]) -> HeartFound | None:
    """Take the heartbeat out of the good electrodes."""
    rate_hz = sitting.rate_hz
    usable = ~bad_samples(bad, rate_hz, sitting.n_samples)
    settings = sitting.settings.heart
    heart = find_heart(sitting.of(good), good, rate_hz, sitting.ecg, usable, settings)
    if heart is None:
        return None
    remove_heart(sitting.x, sitting.rows(good), rate_hz, heart)
    return HeartFound(source=heart.source, size_uv=round(heart.size_uv, 3))


def _remove_components(
    sitting: Sitting, good: list[str], bad: list[BadSpan], holds: Carried, seed: int
) -> Removal:
    settings = sitting.settings.components
    unfit = bad_samples([*bad, *gross_spans(sitting, good)], sitting.rate_hz, sitting.n_samples)
    rows = sitting.rows(good)
    copy = fit_copy(sitting.x, rows, sitting.eog, sitting.rate_hz, unfit, settings)
    if len(good) < FEWEST_FOR_COMPONENTS or copy.duration_s < SHORTEST_FIT_S:
        return Removal.nothing(len(good))
    return label_and_remove(copy, good, decompose(copy.x, settings, seed), holds, settings)


def _without_components(sitting: Sitting, good: list[str], removal: Removal) -> np.ndarray:
    """The good electrodes at average reference, without what was removed."""
    x = sitting.of(good)
    data = (removal.keep + removal.eyes).astype(x.dtype) @ x
    settings = sitting.settings.components
    take_out_eyes(data, x, removal.eye_components, sitting.rate_hz, settings)
    return data


def _account(
    seen: Faults,
    bad: list[BadSpan],
    removal: Removal,
    heart: HeartFound | None,
    drowsy: DrowsySigns,
    pattern: MusclePattern | None,
) -> Quality:
    sitting, found = seen.sitting, seen.found
    lost = bad_samples(bad, sitting.rate_hz, sitting.n_samples)
    usable_s = round(float((~lost).sum()) / sitting.rate_hz, 6)
    unusable: list[UnusableReason] = []
    if len(found.good) < sitting.settings.min_good_electrodes:
        unusable.append("too-few-electrodes")
    if usable_s < sitting.settings.min_usable_s:
        unusable.append("too-few-seconds")
    return Quality(
        rate_hz=sitting.rate_hz,
        duration_s=round(sitting.n_samples / sitting.rate_hz, 6),
        mains_hz=seen.mains_hz,
        carried=seen.carried,
        electrodes=found.electrodes(),
        bad_spans=tuple(joined(bad, sitting.names)),
        heart=heart,
        components=removal.components,
        keep=_rows(removal.keep),
        muscle=_rows(removal.muscle),
        eyes=_rows(removal.eyes),
        muscle_pattern=pattern,
        components_converged=removal.converged,
        labels_in_design=removal.in_design,
        drowsy=drowsy,
        usable_s=usable_s,
        scorable=not unusable,
        unusable=tuple(unusable),
    )


def _rows(matrix: np.ndarray) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, matrix.tolist()))
