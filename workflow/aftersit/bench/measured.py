"""Power of a signal at a region measure, as the analysis measures it."""

from functools import cache

import numpy as np
from scipy.fft import next_fast_len, rfft, rfftfreq

from aftersit.bench.heads import LABEL, template_head
from aftersit.electrodes import STANDARD_19
from aftersit.head.regions import matrix_for
from aftersit.settings import load_settings


@cache
def region_matrix(key: str, good: tuple[str, ...] = STANDARD_19) -> np.ndarray:
    """Matrix of a region measure of the template head, per uV^2; see `aftersit.head.regions`."""
    return matrix_for(template_head(), good, key, load_settings(LABEL).head) * 1e-12


def band_covariance(x: np.ndarray, rate_hz: float, band_hz: tuple[float, float]) -> np.ndarray:
    """Covariance of the part of a signal that lies in [low, high) Hz; shape (n_rows, n_rows)."""
    n_fft = next_fast_len(x.shape[1], real=True)
    f = rfftfreq(n_fft, 1 / rate_hz)
    inside = (f >= band_hz[0]) & (f < band_hz[1])
    part = np.ascontiguousarray(rfft(x, n_fft)[:, inside])
    return 2 * (part @ part.conj().T).real / (n_fft * x.shape[1])


def region_power(
    x: np.ndarray,
    rate_hz: float,
    key: str,
    band_hz: tuple[float, float],
    good: tuple[str, ...] = STANDARD_19,
) -> float:
    """Mean power of a signal (uV; rows are `good`, any reference) at a region measure."""
    return float((region_matrix(key, good) * band_covariance(x, rate_hz, band_hz)).sum())
