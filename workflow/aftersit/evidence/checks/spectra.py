"""How well a spectrum is known, and its slope."""

import numpy as np
import scipy.signal
import scipy.stats

from aftersit.clean import filters
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, alike, between, near
from aftersit.head.aperiodic import fit_range, fit_slopes
from aftersit.head.intervals import band_dof, bin_correlation, interval, segment_dof
from aftersit.head.spectra import cross_spectrum, hann

WINDOW = hann(512)


@check("power", "dof", "Degrees of freedom of K half-overlapping segments are 36 K^2 / (19 K - 1)")
def dof(given: Given, fact: Fact) -> Result:
    many = (2, 9, 59, 299)
    found = [segment_dof([k], WINDOW, 256) for k in many]
    return near(found, [36 * k**2 / (19 * k - 1) for k in many], rel=1e-4)


@check("power", "bin-correlation", "Powers of neighbouring bins correlate by Hann's coefficients")
def bins_correlate(given: Given, fact: Fact) -> Result:
    return near(bin_correlation(WINDOW)[:3], fact["correlations"], abs=1e-4)


@check("power", "factors", "The 95 % factors of a mean spectrum over 10, 30 and 120 s")
def factors(given: Given, fact: Fact) -> Result:
    found = []
    for seconds in fact["seconds"]:
        nu = segment_dof([seconds - 1], WINDOW, 256)  # 2 s windows, a second apart
        found += [float(end[0]) for end in interval(np.array([1.0]), np.array([nu]))]
    return near(found, fact["factors"], abs=0.01)


@check("power", "chi-squared", "Intervals equal those of scipy's chi-squared distribution")
def chi_squared(given: Given, fact: Fact) -> Result:
    nu = np.array([17.5, 93.5, 411.0])
    theirs = nu * 5 / scipy.stats.chi2(nu).ppf([[0.975], [0.025]])
    return alike(np.array(interval(np.full(3, 5.0), nu)), theirs, rel=1e-9)


@check("power", "coverage", "95 % intervals hold the true band power of noise 95 times in 100")
def coverage(given: Given, fact: Fact) -> Result:
    rng, covered = np.random.default_rng(44), []
    true = 2 / 256 * 5
    for _ in range(500):
        spectrum = cross_spectrum(rng.normal(size=(1, 20 * 256)), 256.0, [(0, 20)], 2.0, 0.5)
        density = spectrum.auto[:, spectrum.inside(8, 13)]
        nu = band_dof(density, spectrum.dof, bin_correlation(WINDOW))
        low, high = interval(density.sum(axis=1) * spectrum.bin_hz, nu)
        covered.append(low[0] < true < high[0])
    return near(np.mean(covered), 0.95, abs=0.025)


@check(
    "power", "band-dof", "A flat band of n bins is known as well as Satterthwaite's formula says"
)
def satterthwaite(given: Given, fact: Fact) -> Result:
    flat = np.full((1, 10), 3.0)
    expected = 40 * 100 / (10 + 2 * (9 * 4 / 9 + 8 / 36))
    return near(band_dof(flat, 40.0, bin_correlation(WINDOW)), [expected], rel=1e-3)


@check("power", "median-welch", "Cleaning's spectra equal scipy's medians of periodograms")
def median_welch(given: Given, fact: Fact) -> Result:
    x = np.random.default_rng(13).normal(size=(2, 41 * 256))
    _, theirs = scipy.signal.welch(
        x, 256, "hann", 1024, detrend="constant", average="median", axis=1
    )
    return alike(filters.spectra(x, 256.0)[1], theirs, rel=1e-9)


@check("power", "slope", "The slope of a power law with an alpha bump is found again")
def slope(given: Given, fact: Fact) -> Result:
    settings = given.settings.head.aperiodic
    f = np.arange(1, 257) * 0.5
    bump = 10 ** (0.9 * np.exp(-0.5 * ((f - 10) / 1.2) ** 2))
    density = np.array([30 * f**-exponent * bump for exponent in fact["exponents"]])
    found = fit_slopes(f, density, fit_range(settings, 100.0), settings)
    return near([s.exponent for s in found], fact["exponents"], abs=0.05)


@check("power", "block-of-ten-seconds", "A doubling within 10 s lies inside the interval of chance")
def ten_seconds(given: Given, fact: Fact) -> Result:
    nu = segment_dof([9], WINDOW, 256)
    _, high = interval(np.array([1.0]), np.array([nu]))
    return between(high[0], 2.0, 2.5, "times the estimate")
