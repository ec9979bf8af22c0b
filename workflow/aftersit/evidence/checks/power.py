"""Band power: how a density, a band and a tone must come out."""

import numpy as np
import scipy.signal

from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, alike, both, near, same
from aftersit.head.bands import bands
from aftersit.head.spectra import CrossSpectrum, cross_spectrum

RATE_HZ = 256.0


def spectrum_of(
    signal: np.ndarray, rate_hz: float = RATE_HZ, segment_s: float = 2.0
) -> CrossSpectrum:
    """Of a whole signal, as block spectra are made."""
    return cross_spectrum(np.atleast_2d(signal), rate_hz, [(0.0, 1e9)], segment_s, 0.5)


def white(seconds: int = 600) -> np.ndarray:
    """White noise of 10 uV."""
    return np.random.default_rng(11).normal(scale=10.0, size=(1, int(seconds * RATE_HZ)))


@check("power", "white-noise", "White noise has the one-sided density 2 sigma^2 / rate")
def white_noise(given: Given, fact: Fact) -> Result:
    spectrum = spectrum_of(white())
    inner = (spectrum.frequency_hz > 2) & (spectrum.frequency_hz < 126)
    expected = fact["uv2_per_hz_at_10_uv_256_hz"]
    return near(spectrum.auto[0, inner].mean(), expected, rel=0.01, unit="uV^2/Hz")


@check("power", "parseval", "The density adds up to the variance of the signal")
def parseval(given: Given, fact: Fact) -> Result:
    signal = white()
    spectrum = spectrum_of(signal)
    total = spectrum.auto[0].sum() * spectrum.bin_hz
    return near(total, signal.var(), rel=0.01, unit="uV^2")


@check("power", "tone", "A sine of amplitude A has A^2/2, wherever it lies between two bins")
def tone(given: Given, fact: Fact) -> Result:
    time_s = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    found = [
        spectrum_of(7 * np.sin(2 * np.pi * f * time_s + 0.3)).band_covariance(8, 13)[0, 0]
        for f in (10.0, 10.25, 10.1)
    ]
    return near(found, [fact["uv2_at_7_uv"]] * 3, rel=1e-4, unit="uV^2")


@check("power", "band-width", "A flat density fills every band by its width, no bin twice")
def band_width(given: Given, fact: Fact) -> Result:
    frequency_hz = np.arange(257) * 0.5
    flat = CrossSpectrum(frequency_hz, np.ones((257, 2, 2), complex), 3, 4.0)
    found = [flat.band_covariance(*band.limits_hz)[0, 0] for band in bands()]
    return near(found, [band.high_hz - band.low_hz for band in bands()], rel=1e-12, unit="Hz")


@check("power", "white-in-bands", "White noise gives density times width in every band")
def white_in_bands(given: Given, fact: Fact) -> Result:
    spectrum, density = spectrum_of(white()), fact["uv2_per_hz_at_10_uv_256_hz"]
    power = np.array([spectrum.band_covariance(*b.limits_hz)[0, 0] for b in bands()])
    width = np.array([b.high_hz - b.low_hz for b in bands()])
    error = np.sqrt(2 / spectrum.n_segments / (2 * width))  # of one standard error (Welch 1967)
    return near((power / (density * width) - 1) / error, np.zeros(len(width)), abs=3, unit="errors")


@check("power", "no-gap", "Bands follow one another: no frequency is in two, none in none")
def no_gap(given: Given, fact: Fact) -> Result:
    edges = [limit for band in bands() for limit in band.limits_hz]
    doubled = [
        e for e, following in zip(edges[1:-1:2], edges[2:-1:2], strict=True) if e != following
    ]
    return same((sorted(edges) == edges, doubled), (True, []))


@check("power", "band-limits", "Theta and alpha have the limits of the clinical glossary")
def band_limits(given: Given, fact: Fact) -> Result:
    named = {band.name: list(band.limits_hz) for band in bands()}
    return same({k: named[k] for k in fact["hz"]}, fact["hz"], number=True)


@check("power", "band-printed", "A band is always printed with its limits in Hz")
def band_printed(given: Given, fact: Fact) -> Result:
    alpha, gamma = (next(b for b in bands() if b.name == name) for name in ("alpha", "gamma"))
    expected = ["alpha (8-13 Hz)", f"gamma ({gamma.low_hz:g}-{gamma.high_hz:g} Hz)"]
    return same([str(alpha), str(gamma)], expected)


@check("power", "welch", "Spectra equal those of scipy's welch")
def welch(given: Given, fact: Fact) -> Result:
    pairs = []
    for rate_hz, segment_s in ((256.0, 2.0), (500.0, 2.0), (160.0, 1.7)):
        signal = np.random.default_rng(3).normal(size=(2, int(31.3 * rate_hz))) + 5
        length = round(segment_s * rate_hz)
        _, theirs = scipy.signal.welch(signal, rate_hz, "hann", length, detrend="constant")
        pairs.append((spectrum_of(signal, rate_hz, segment_s).auto.ravel(), theirs.ravel()))
    ours, theirs = (np.concatenate(part) for part in zip(*pairs, strict=True))
    return alike(ours, theirs, rel=1e-9)


@check("power", "cross-welch", "Cross-spectra equal those of scipy's csd", fact="welch")
def cross_welch(given: Given, fact: Fact) -> Result:
    signal = np.random.default_rng(5).normal(size=(3, 9000)).cumsum(axis=1)
    _, theirs = scipy.signal.csd(signal[2], signal[0], RATE_HZ, nperseg=512)
    return alike(spectrum_of(signal).density[:, 0, 2], theirs, rel=1e-9)


@check("power", "units", "A thousand times the signal is a million times the power")
def units(given: Given, fact: Fact) -> Result:
    signal = np.random.default_rng(9).normal(size=(1, 20 * 256))
    one, many = (spectrum_of(k * signal).band_covariance(8, 13)[0, 0] for k in (1, 1e3))
    return near(many / one, fact["times"], rel=1e-9)


@check("power", "enbw", "The window's equivalent noise bandwidth is that of Hann's", fact="enbw")
def enbw(given: Given, fact: Fact) -> Result:
    """From outside the window: a tone's peak density over its power."""
    time_s = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    spectrum = spectrum_of(3 * np.sin(2 * np.pi * 10 * time_s))
    peak = spectrum.auto[0, np.argmin(np.abs(spectrum.frequency_hz - 10))]
    on_bin = near(4.5 / (peak * spectrum.bin_hz), fact["hann_bins"], rel=1e-3, unit="bins")
    half = spectrum_of(3 * np.sin(2 * np.pi * 10.25 * time_s)).auto[0].max() / peak
    return both(on_bin, near(half, fact["hann_half_bin_peak"], abs=0.005))
