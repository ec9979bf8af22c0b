"""Eyes taken out where they are: in what is slow, and while they move.

A component that is labelled as eyes also hears brain. Taken out whole, it costs
alpha and everything faster at all electrodes all the time; eyes themselves are
slow and come in events (after Castellanos & Makarov 2006, J Neurosci Methods
158:300, who spare what is small).
"""

import numpy as np
from scipy import ndimage, signal

from aftersit.clean.components import EyeComponents
from aftersit.clean.filters import product, subtract_product
from aftersit.clean.settings import ComponentSettings

QUIET_SHARE = 0.25
"""Part of the half seconds that counts as without eyes, even when they move a lot."""
QUIET_S = 0.5


def take_out_eyes(
    x: np.ndarray,
    before: np.ndarray,
    eyes: EyeComponents,
    rate_hz: float,
    settings: ComponentSettings,
) -> None:
    """Subtract from x, in place, what the eye components carry of events.

    Parameters
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        Signal that still holds the eyes, uV, average reference.
    before : ndarray, shape (n_electrodes, n_samples)
        Signal that the components are computed from.
    eyes : EyeComponents
    rate_hz : float
        Sampling rate.
    settings : ComponentSettings
        Limits of frequency and size.
    """
    if not eyes.maps.shape[1]:
        return
    sos = signal.butter(2, settings.eye_below_hz, "lowpass", fs=rate_hz, output="sos")
    courses = product(eyes.filters, before)
    for course in courses:  # one at a time, so that the filter's copies stay small
        slow = signal.sosfiltfilt(sos, course)
        course[:] = slow * _moving(slow, rate_hz, settings)
    subtract_product(x, eyes.maps, courses)


def _moving(slow: np.ndarray, rate_hz: float, settings: ComponentSettings) -> np.ndarray:
    """1 while a component is far larger than when quiet, 0 else, with soft edges."""
    size = max(round(QUIET_S * rate_hz), 1)
    whole = slow[: slow.size // size * size].reshape(-1, size)
    quiet = np.quantile(np.sqrt((whole**2).mean(axis=1)), QUIET_SHARE)
    wide = round(settings.eye_edge_s * rate_hz)
    far = (np.abs(slow) > settings.eye_factor * quiet).astype(float)
    reached = ndimage.maximum_filter1d(far, 2 * wide + 1)
    return ndimage.uniform_filter1d(reached, max(wide, 1))
