"""Recordings that faults are put into: simulated ones, and pieces of the open ones."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aftersit.bench.case import Case, Tension
from aftersit.bench.heads import LABEL
from aftersit.bench.open_recordings import open_recordings
from aftersit.bench.sittings import as_raw, simulate
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.faults import Faults, look_for_faults
from aftersit.clean.run import Cleaned, clean_recording
from aftersit.electrodes import STANDARD_19
from aftersit.settings import load_settings

RATES_HZ = (256.0, 500.0, 250.0)
TENSE = (
    (),
    (Tension(6.0),),
    (Tension(10.0, ("jaw-left",)), Tension(3.0, ("brow", "neck"))),
)
"""Every third sitting without muscle, with a tense jaw, with several muscles."""


@dataclass(frozen=True)
class Recording:
    """Signal of the 19 electrodes in uV with what is known of it.

    `source` is `simulated` or `open`; `really_bad` marks samples that are bad already.
    """

    name: str
    source: str
    x: np.ndarray
    rate_hz: float
    limits: ChannelLimits
    mains_hz: float
    really_bad: np.ndarray

    def faults(self, x: np.ndarray) -> Faults:
        """What the stage finds before components are fitted, in another signal of its kind."""
        raw = as_raw(x, STANDARD_19, self.rate_hz)
        return look_for_faults(raw, self.limits, self.mains_hz, load_settings(LABEL).clean)

    def cleaned(self, x: np.ndarray) -> Cleaned:
        """The whole stage on another signal of its kind."""
        settings = load_settings(LABEL)
        raw = as_raw(x, STANDARD_19, self.rate_hz)
        return clean_recording(raw, self.limits, self.mains_hz, settings.clean, settings.seed)


def simulated(n: int, minutes: float, seed: int) -> Iterator[Recording]:
    """Sittings of the other heads with ordinary eyes, heart, mains, drift, and muscle in turn."""
    for k in range(n):
        case = Case.drawn(seed + k, minutes=minutes, rate_hz=RATES_HZ[k % 3], tensions=TENSE[k % 3])
        x = simulate(case).signal_uv
        nothing = np.zeros(x.shape[1], bool)
        yield Recording(
            f"sitting {k}", "simulated", x, case.rate_hz, ChannelLimits(), 50.0, nothing
        )


def opened(n: int, longest_s: float = np.inf) -> Iterator[Recording]:
    """The first n open recordings, cut to a length."""
    for one in open_recordings()[:n]:
        part = slice(0, round(min(longest_s * one.rate_hz, one.x.shape[1])))
        bad = one.really_bad()[part]
        x = one.x[:, part]
        yield Recording(one.name, "open", x, one.rate_hz, one.limits, one.mains_hz, bad)
