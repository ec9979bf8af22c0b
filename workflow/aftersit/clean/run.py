"""The whole stage on one recording: signal in, cleaned signal and account out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aftersit.clean import filters, mains
from aftersit.clean.carried import ChannelLimits, carried
from aftersit.clean.components import Removal, decompose, label_and_remove
from aftersit.clean.electrodes import Findings
from aftersit.clean.find_spans import gross_spans, spans_after, spans_before
from aftersit.clean.fit_copy import fit_copy
from aftersit.clean.measure import find_bad_electrodes
from aftersit.clean.settings import CleanSettings
from aftersit.clean.sitting import Sitting
from aftersit.clean.spans import bad_samples, joined
from aftersit.quality import BadSpan, Carried, Quality, UnusableReason

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
    data_uv : ndarray, shape (n_good, n_samples)
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
        and without the removed components; else as recorded.
    """
    sitting = Sitting.read(raw, settings)
    sitting.x = filters.bridged_over(sitting.x, sitting.constant)
    frequencies, density = filters.spectra(sitting.x, sitting.rate_hz)
    holds = carried(frequencies, density, limits, settings.high_pass_hz, settings.carried)
    mains_hz = mains.find_mains(frequencies, density, prior_mains_hz, settings.mains)
    if mains_hz is not None:
        at_hz = mains.harmonics(frequencies, density, mains_hz, settings.mains)
        _remove_mains(sitting, at_hz)
    sitting.x, drift_uv = filters.without_drift(sitting.x, sitting.rate_hz, settings.high_pass_hz)
    found, typical = find_bad_electrodes(sitting, drift_uv, holds)
    bad = spans_before(sitting, found, typical, mains_hz)
    removal = _remove_components(sitting, found.good, bad, holds, seed)
    data = removal.keep @ sitting.x[sitting.rows(found.good)]
    bad += spans_after(data, sitting, found.good)
    return Cleaned(data, found.good, _account(sitting, found, bad, removal, mains_hz, holds))


def _remove_mains(sitting: Sitting, at_hz: list[float]) -> None:
    """Learn from what moves only; what stands still is bridged again, as no mains was in it."""
    window_s = sitting.settings.mains.window_s
    without = mains.remove_mains(sitting.x, sitting.rate_hz, at_hz, window_s, sitting.moving())
    sitting.x = filters.bridged_over(without, sitting.constant)


def _remove_components(
    sitting: Sitting, good: list[str], bad: list[BadSpan], holds: Carried, seed: int
) -> Removal:
    settings = sitting.settings.components
    unfit = bad_samples([*bad, *gross_spans(sitting, good)], sitting.rate_hz, sitting.n_samples)
    rows = sitting.rows(good)
    copy = fit_copy(sitting.x, rows, sitting.ecg, sitting.rate_hz, unfit, settings)
    if len(good) < FEWEST_FOR_COMPONENTS or copy.duration_s < SHORTEST_FIT_S:
        return Removal.nothing(len(good))
    return label_and_remove(copy, good, decompose(copy.x, settings, seed), holds, settings)


def _account(
    sitting: Sitting,
    found: Findings,
    bad: list[BadSpan],
    removal: Removal,
    mains_hz: float | None,
    holds: Carried,
) -> Quality:
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
        mains_hz=mains_hz,
        carried=holds,
        electrodes=found.electrodes(),
        bad_spans=tuple(joined(bad, sitting.names)),
        components=removal.components,
        keep=_rows(removal.keep),
        muscle=_rows(removal.muscle),
        eyes=_rows(removal.eyes),
        components_converged=removal.converged,
        labels_in_design=removal.in_design,
        usable_s=usable_s,
        scorable=not unusable,
        unusable=tuple(unusable),
    )


def _rows(matrix: np.ndarray) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, matrix.tolist()))
