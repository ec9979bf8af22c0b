"""What cleaning found: the account that replay, record and pages read.

Kept as the key `Quality` of the cleaned recording's BIDS sidecar
(`*_desc-clean_eeg.json`). Matrices are row lists over `good` electrodes.
"""

import json
from pathlib import Path
from typing import Literal

from aftersit.closed import Closed

ElectrodeReason = Literal[
    "missing", "flat", "noisy", "drifting", "popping", "bridged", "swapped", "unrelated"
]
SpanReason = Literal["movement", "pop", "clipping", "dropout", "constant", "mains", "electrode"]
Component = Literal["brain", "muscle", "eye", "heart", "mains", "channel", "other"]
UnusableReason = Literal["too-few-electrodes", "too-few-seconds"]
DrowsyLimit = Literal[
    "not-measured", "no-posterior-electrodes", "no-eye-electrodes", "slow-waves-not-recorded"
]


class Electrode(Closed):
    """One of the montage's electrodes and whether it served."""

    name: str
    good: bool
    reasons: tuple[ElectrodeReason, ...] = ()
    evidence: dict[str, float] = {}


class BadSpan(Closed):
    """Seconds that can't be used, guard included; [start_s, stop_s)."""

    start_s: float
    stop_s: float
    reason: SpanReason
    electrodes: tuple[str, ...] = ()


class HeartFound(Closed):
    """The heartbeat that was taken out."""

    source: Literal["ecg", "eeg"]
    """Where its beats were found."""
    size_uv: float
    """Mean beat, peak to peak, at the electrode that heard most of it."""


class ComponentFound(Closed):
    """One independent component; `topography` over the good electrodes."""

    label: Component
    probability: float
    removed: bool
    variance_share: float
    topography: tuple[float, ...]


class Carried(Closed):
    """What the recording can carry: half-open frequency range and notches, in Hz."""

    low_hz: float
    high_hz: float
    notches_hz: tuple[tuple[float, float], ...] = ()

    def holds(self, band_hz: tuple[float, float]) -> bool:
        """Whether a band lies inside the range and outside the notches."""
        low, high = band_hz
        inside = self.low_hz <= low and high <= self.high_hz
        return inside and all(high <= a or b <= low for a, b in self.notches_hz)


class DrowsySigns(Closed):
    """Signs that often go with drowsiness, step by step: measurements, no verdict.

    One value for each whole step of `step_s` from the first sample; None where it
    holds seconds that can't be used. An empty row could not be measured; `limits`
    say why.
    """

    step_s: float = 2.0
    alpha_db: tuple[float | None, ...] = ()
    """Posterior alpha, dB of uV^2."""
    theta_db: tuple[float | None, ...] = ()
    """Theta of the median electrode away from the front, dB of uV^2."""
    rolls_db: tuple[float | None, ...] = ()
    """How far slow rolling of the eyes stands out in every respect; see `clean.slow_eyes`."""
    alpha_stands_db: float | None = None
    """Alpha over the rest of the spectrum, where there was most of it."""
    limits: tuple[DrowsyLimit, ...] = ("not-measured",)


class MusclePattern(Closed):
    """Directions in which muscle was heard above the brain's rhythms; see `muscle.model`.

    Filters and patterns are rows over the good electrodes, one for each
    direction. Above `crossover_hz` a direction d of a signal x was replaced by
    kept[d] of it: x - sum (1 - kept[d]) patterns[d] (filters[d] x).
    """

    crossover_hz: float
    noise_density: float
    """The amplifiers' noise at every electrode, uV^2/Hz."""
    filters: tuple[tuple[float, ...], ...]
    patterns: tuple[tuple[float, ...], ...]
    kept: tuple[float, ...]
    slopes: tuple[float, ...]
    """Fall of each direction's density with frequency, as a power."""


class Quality(Closed):
    """The whole account for one recording."""

    rate_hz: float
    duration_s: float
    mains_hz: float | None
    carried: Carried
    electrodes: tuple[Electrode, ...]
    bad_spans: tuple[BadSpan, ...]
    heart: HeartFound | None = None
    """None where no heartbeat was heard."""
    components: tuple[ComponentFound, ...]
    keep: tuple[tuple[float, ...], ...]
    """Cleaned = keep @ filtered average-referenced signal of the good electrodes; above
    the crossover of `muscle_pattern` without what muscle is in it."""
    muscle: tuple[tuple[float, ...], ...]
    """The part of the signal that removed muscle components carried."""
    eyes: tuple[tuple[float, ...], ...]
    """The part that removed eye components carried."""
    muscle_pattern: MusclePattern | None = None
    """None where the recording does not reach high enough to learn one."""
    components_converged: bool = True
    """Whether the component fit came within its tolerance; True where none was made."""
    labels_in_design: bool = True
    """Whether the recording holds what the component labels were made for (1-100 Hz);
    where it does not, only the labels that the settings name were used."""
    drowsy: DrowsySigns = DrowsySigns()
    usable_s: float
    scorable: bool
    unusable: tuple[UnusableReason, ...] = ()

    @property
    def good(self) -> list[str]:
        """Names of the electrodes that served, in the montage's order."""
        return [e.name for e in self.electrodes if e.good]


def read_quality(sidecar: Path) -> Quality:
    """Read the account from a cleaned recording's sidecar."""
    return Quality.model_validate(json.loads(sidecar.read_text())["Quality"])
