"""Deliberate faults in spectra and filters."""

import numpy as np
from scipy import signal

from aftersit.evidence.fault_parts import both_edges, returning, scaled, shifted_band, with_argument
from aftersit.evidence.faults import Fault

POWER = (
    Fault(
        "two-sided",
        ("power",),
        "the density is two-sided",
        (("aftersit.head.spectra._one_sided", scaled(0.5)),),
    ),
    Fault(
        "both-edges",
        ("power",),
        "bins on both edges of a band are counted",
        (("aftersit.head.spectra.CrossSpectrum.inside", both_edges),),
    ),
    Fault(
        "shifted-band",
        ("power",),
        "the alpha band is shifted by two hertz",
        (
            ("aftersit.head.bands.bands", shifted_band("alpha", 2)),
            ("aftersit.evidence.checks.power.bands", shifted_band("alpha", 2)),
        ),
    ),
    Fault(
        "boxcar",
        ("power",),
        "no window is used",
        (
            ("aftersit.head.spectra.hann", lambda f: np.ones),
            ("aftersit.evidence.checks.spectra.WINDOW", lambda w: np.ones(len(w))),
        ),
    ),
    Fault(
        "amplitude-for-power",
        ("power",),
        "power is the root of what it should be",
        (
            (
                "aftersit.head.spectra.CrossSpectrum.band_covariance",
                lambda f: lambda *a: np.sqrt(np.abs(f(*a))),
            ),
        ),
    ),
    Fault(
        "no-bin-width",
        ("power",),
        "a band's power is not multiplied by the bin's width",
        (("aftersit.head.spectra.CrossSpectrum.band_covariance", scaled(2)),),
    ),
    Fault(
        "names-without-limits",
        ("power",),
        "bands are printed without limits",
        (("aftersit.head.bands.Band.__str__", lambda f: lambda band: band.name),),
    ),
    Fault(
        "independent-segments",
        ("power",),
        "overlapping segments are taken as independent",
        (
            (
                "aftersit.evidence.checks.spectra.segment_dof",
                lambda f: lambda runs, *a: 2.0 * sum(runs),
            ),
        ),
    ),
    Fault(
        "independent-bins",
        ("power",),
        "neighbouring bins are taken as independent",
        (
            (
                "aftersit.evidence.checks.spectra.bin_correlation",
                lambda f: lambda w: np.array([1.0, 0.0, 0.0]),
            ),
        ),
    ),
    Fault(
        "wrong-level",
        ("power",),
        "intervals hold 80 % in place of 95 %",
        (("aftersit.head.intervals.LEVEL", returning(0.8)),),
    ),
    Fault(
        "median-biased",
        ("power",),
        "medians of periodograms keep their bias",
        (("aftersit.clean.filters.median_bias", returning(1.0)),),
    ),
    Fault(
        "slope-in-db",
        ("power",),
        "the slope is told in decibels",
        (
            (
                "aftersit.evidence.checks.spectra.fit_slopes",
                lambda f: (
                    lambda *a: [type(s)(s.exponent * 10, s.offset, s.r_squared) for s in f(*a)]
                ),
            ),
        ),
    ),
    Fault(
        "conjugate",
        ("power",),
        "cross-spectra are turned round",
        (("aftersit.head.spectra._mean_products", lambda f: lambda *a: f(*a).conj()),),
    ),
)


FILTERS = (
    Fault(
        "zero-phase-replay",
        ("filters",),
        "the replay filters forwards and backwards",
        (
            (
                "aftersit.replay.filters.CausalFilter.__call__",
                lambda f: (
                    lambda self, x: signal.sosfiltfilt(self._sos, x) if x.shape[1] > 90 else x
                ),
            ),
        ),
    ),
    Fault(
        "wrong-order",
        ("filters",),
        "band-passes have another order than is printed",
        (("aftersit.replay.filters.band_pass", with_argument(2, lambda order: order + 1)),),
    ),
    Fault(
        "band-shifted",
        ("filters",),
        "band-passes are ten percent too high",
        (
            (
                "aftersit.replay.filters.band_pass",
                with_argument(0, lambda band: (band[0] * 1.1, band[1] * 1.1)),
            ),
        ),
    ),
    Fault(
        "delay-of-one-section",
        ("filters",),
        "only the first section's delay is printed",
        (("aftersit.replay.filters.group_delay_s", with_argument(0, lambda sos: sos[:1])),),
    ),
    Fault(
        "centred-mean",
        ("filters",),
        "the moving mean looks as far ahead as back",
        (
            (
                "aftersit.replay.engine.moving_mean",
                lambda f: lambda steps, n: np.roll(f(steps, n), -(n // 2), axis=-1),
            ),
        ),
    ),
    Fault(
        "sees-its-own-sample",
        ("filters",),
        "a decision sees the next samples",
        (("aftersit.replay.grid.samples_before", lambda f: lambda t, rate: f(t, rate) + 2),),
    ),
    Fault(
        "mean-of-the-whole",
        ("filters",),
        "the whole recording's mean is taken off first",
        (
            (
                "aftersit.replay.engine.PowerStream.push",
                lambda f: lambda self, x: f(self, x - x.mean(axis=1, keepdims=True)),
            ),
        ),
    ),
    Fault(
        "no-zero-phase-rule",
        ("filters",),
        "a zero-phase filter stands in the replay's code",
        (
            (
                "pathlib.Path.read_text",
                lambda f: (
                    lambda self, *a, **k: (
                        f(self, *a, **k) + _FORBIDDEN * (self.parent.name == "replay")
                    )
                ),
            ),
        ),
    ),
    Fault(
        "one-pass",
        ("filters",),
        "cleaning's high-pass runs one way only",
        (
            (
                "aftersit.clean.filters._row_by_row",
                lambda f: lambda sos, x, pad: signal.sosfilt(sos, x),
            ),
        ),
    ),
    Fault(
        "high-pass-2hz",
        ("filters",),
        "cleaning's high-pass stands at twice its cut-off",
        (("aftersit.clean.filters.high_pass", with_argument(2, lambda hz: 2 * hz)),),
    ),
)

_FORBIDDEN = "\ny = sosfiltfilt(sos, x)\n"
