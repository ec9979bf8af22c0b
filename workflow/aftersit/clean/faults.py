"""All that is found out before components are fitted: what is carried, what is bad."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from aftersit.clean import filters, mains
from aftersit.clean.carried import ChannelLimits, carried
from aftersit.clean.electrodes import Findings
from aftersit.clean.find_spans import spans_before
from aftersit.clean.measure import find_bad_electrodes
from aftersit.clean.settings import CleanSettings
from aftersit.clean.sitting import Sitting
from aftersit.clean.slow_eyes import SlowCopy, slow_copy
from aftersit.quality import BadSpan, Carried

if TYPE_CHECKING:
    import mne


@dataclass(frozen=True)
class Faults:
    """What is known before components are fitted.

    Attributes
    ----------
    sitting : Sitting
        Mains removed, high-passed.
    carried : Carried
        What the recording carries.
    mains_hz : float | None
        The power line's frequency, where it was found.
    found : Findings
        Bad electrodes.
    bad : list of BadSpan
        Bad spans seen so far.
    slow : SlowCopy
        What is needed of the signal below the high-pass.
    """

    sitting: Sitting
    carried: Carried
    mains_hz: float | None
    found: Findings
    bad: list[BadSpan]
    slow: SlowCopy


def look_for_faults(
    raw: mne.io.BaseRaw,
    limits: ChannelLimits,
    prior_mains_hz: float | None,
    settings: CleanSettings,
) -> Faults:
    """Filter a recording and find what is bad in it; parameters as `clean_recording`."""
    sitting = Sitting.read(raw, settings)
    filters.bridge_over(sitting.x, sitting.constant)
    frequencies, density = filters.spectra(sitting.x, sitting.rate_hz)
    holds = carried(frequencies, density, limits, settings.high_pass_hz, settings.carried)
    mains_hz = mains.find_mains(frequencies, density, prior_mains_hz, settings.mains)
    if mains_hz is not None:
        at_hz = mains.harmonics(frequencies, density, mains_hz, settings.mains)
        sitting.mains_bursts = mains.bursts(
            sitting.x, sitting.rate_hz, mains_hz, settings.mains, sitting.steady()
        )
        _remove_mains(sitting, at_hz)
    slow = slow_copy(sitting.x, sitting.names, sitting.rate_hz)
    sitting.x, drift_uv = filters.without_drift(sitting.x, sitting.rate_hz, settings.high_pass_hz)
    found, typical = find_bad_electrodes(sitting, drift_uv, holds)
    bad = spans_before(sitting, found, typical)
    return Faults(sitting, holds, mains_hz, found, bad, slow)


def _remove_mains(sitting: Sitting, at_hz: list[float]) -> None:
    """Learn from what is steady; what stands still is bridged again, as no mains was in it."""
    window_s = sitting.settings.mains.window_s
    mains.remove_mains(sitting.x, sitting.rate_hz, at_hz, window_s, sitting.steady(), out=sitting.x)
    filters.bridge_over(sitting.x, sitting.constant)
