"""One recording on its way through the stage: its rows, and what stands still in them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from aftersit.clean import spans
from aftersit.clean.settings import CleanSettings
from aftersit.electrodes import STANDARD_19

if TYPE_CHECKING:
    import mne


@dataclass
class Sitting:
    """Signal of the recorded standard electrodes and what every step needs beside it.

    Attributes
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        uV; first as recorded, later filtered.
    names : list of str
        Recorded standard electrodes, in the standard order.
    rate_hz : float
        Sampling rate.
    ecg : ndarray, shape (n_samples,) | None
        The first ECG channel.
    eog : ndarray, shape (n_channels, n_samples)
        The EOG channels.
    settings : CleanSettings
        Of the settings version.
    constant, clipped : list of Run
        Found in the signal as recorded.
    mains_bursts : list of Run
        Where mains stood out for a while, before it was removed.
    """

    x: np.ndarray
    names: list[str]
    rate_hz: float
    ecg: np.ndarray | None
    eog: np.ndarray
    settings: CleanSettings
    constant: list[spans.Run]
    clipped: list[spans.Run]
    mains_bursts: list[spans.Run] = field(default_factory=list)

    @classmethod
    def read(cls, raw: mne.io.BaseRaw, settings: CleanSettings) -> Sitting:
        """Take the standard electrodes and the ECG out of a recording in volts."""
        names = [name for name in STANDARD_19 if name in raw.ch_names]
        types = dict(zip(raw.ch_names, raw.get_channel_types(), strict=True))
        hearts = [name for name in raw.ch_names if types[name] == "ecg"]
        ecg = raw.get_data(picks=hearts[:1])[0] * 1e6 if hearts else None
        watching = [name for name in raw.ch_names if types[name] == "eog"]
        eog = raw.get_data(picks=watching) * 1e6 if watching else np.zeros((0, raw.n_times))
        x = raw.get_data(picks=names)
        x *= 1e6
        rate_hz = float(raw.info["sfreq"])
        shortest = max(round(settings.spans.constant_s * rate_hz), 2)
        constant = spans.constant_runs(x, shortest)
        clipped = spans.clipped_runs(x, settings.spans.clipping_samples, shortest)
        return cls(x, names, rate_hz, ecg, eog, settings, constant, clipped)

    @property
    def n_samples(self) -> int:
        return self.x.shape[1]

    @property
    def hop(self) -> int:
        """Samples between the windows that electrodes are judged in; each is two hops long."""
        return max(round(self.settings.electrodes.window_s * self.rate_hz / 2), 1)

    def rows(self, names: list[str]) -> np.ndarray:
        """Row numbers of electrodes."""
        return np.array([self.names.index(name) for name in names], int)

    def of(self, names: list[str]) -> np.ndarray:
        """Signal of electrodes, to look at only: no copy is made where all are wanted."""
        return self.x if names == self.names else self.x[self.rows(names)]

    @cached_property
    def stopped(self) -> np.ndarray:
        """Samples at which at least half of the electrodes stand still, shape (n_samples,)."""
        change = np.zeros(self.n_samples + 1, int)
        for _, start, stop in self.constant:
            change[start] += 1
            change[stop] -= 1
        return np.cumsum(change)[:-1] >= len(self.names) / 2

    def steady(self) -> np.ndarray | None:
        """Samples without constant runs and mains bursts, shape (n_electrodes, n_samples).

        None where there are neither.
        """
        runs = [*self.constant, *self.mains_bursts]
        if not runs:
            return None
        steady = np.ones(self.x.shape, bool)
        for row, start, stop in runs:
            steady[row, start:stop] = False
        return steady

    def constant_share(self) -> np.ndarray:
        """Part of the sitting that an electrode alone stands still, shape (n_electrodes,)."""
        share = np.zeros(len(self.names))
        for row, start, stop in self.constant:
            share[row] += (~self.stopped[start:stop]).sum()
        return share / self.n_samples
