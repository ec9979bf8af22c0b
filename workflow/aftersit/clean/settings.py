"""Settings of this stage that change results."""

from typing import Annotated

from pydantic import Field

from aftersit.closed import Closed
from aftersit.muscle.settings import MuscleSettings
from aftersit.quality import Component

Positive = Annotated[float, Field(gt=0)]
Share = Annotated[float, Field(gt=0, lt=1)]


class MainsSettings(Closed):
    """Finding and removing the power line's frequency."""

    min_db: Positive
    """Peak over its neighbours at the expected frequency."""
    other_min_db: Positive
    """The same at the other frequency, 50 or 60 Hz."""
    window_s: Positive
    """Length over which amplitude and phase are taken as constant."""
    burst_uv: Positive
    burst_factor: Positive
    burst_over_beside: Positive
    """Amplitude away from its running median that makes a bad span: in uV, over the
    electrode's median, and over the amplitude beside the mains frequency."""


class CarriedSettings(Closed):
    """What the recording can carry."""

    nyquist_share: Share
    """Usable part of the frequencies below half the sampling rate."""
    rolloff_db_per_octave: Positive
    """A spectrum that falls faster has met a low-pass filter."""
    notch_half_width_hz: Positive
    """Taken on either side of a notch."""
    notch_dip_db: Positive
    """A dip at a mains frequency this deep is a notch that no header names."""


class ElectrodeSettings(Closed):
    """When an electrode is bad."""

    window_s: Positive
    bad_share: Share
    """Bad in more than this share of the sitting: left out of all of it."""
    flat_uv: Positive
    noisy_factor: Positive
    """Unexplained amplitude over that of the typical electrode, 1-20 Hz."""
    noisy_unexplained: Share
    """Least part of the variance that the other electrodes can't explain, 1-20 Hz."""
    awhile_factor: Positive
    """Least unexplained amplitude of an electrode that is bad for a while only, 1-20 Hz,
    over its own median."""
    fast_factor: Positive
    """As `noisy_factor`, above 30 Hz."""
    fast_unexplained: Share
    """As `noisy_unexplained`, above 30 Hz."""
    unrelated_correlation: Share
    """Correlation with the prediction from the others that a good electrode exceeds, 1-20 Hz."""
    unrelated_factor: Positive
    """Least unexplained amplitude of such an electrode, over the typical electrode's."""
    apart: Positive
    """How far apart from the others an electrode may stand, mean over the bands."""
    apart_often: Positive
    """The same in a window, for the share of bad windows."""
    apart_awhile: Positive
    apart_edge: Positive
    """The same in two windows in a row that make a bad span, and at such a span's edges."""
    drift_uv: Positive
    """Movement below the high-pass within 5 s (standard deviation)."""
    drift_factor: Positive
    """The same, over the typical electrode."""
    pops_per_minute: Positive
    bridged_uv: Positive
    """Difference of two electrodes (root mean square) that gel has joined."""
    bridged_share: Share
    """The same, over the median of all pairs."""
    swap_margin: Share
    """Correlation of left less right with what the other pairs predict, below zero."""
    place_fit: Annotated[float, Field(ge=-1, lt=1)]
    """Least correlation with what the electrode's surroundings predict."""


class SpanSettings(Closed):
    """When a stretch of time is bad."""

    guard_s: Annotated[float, Field(ge=0, le=5)]
    constant_s: Positive
    """Shortest run of one and the same value."""
    clipping_samples: Annotated[int, Field(ge=2)]
    """Shortest run at the recording's extreme value."""
    gross_uv: Positive
    """Swing that no component fit should see and that no brain makes."""
    movement_factor: Positive
    """Swing in half a second (half of peak to peak) over the electrode's median."""
    movement_uv: Positive
    """Least swing that can be movement."""
    movement_electrodes: Share
    """Share of the electrodes that must move together."""
    pop_factor: Positive
    """Change from one mean of 40 ms to the next, over the electrode's typical one."""
    pop_uv: Positive
    """Least jump that can be a pop."""


class HeartSettings(Closed):
    """When there is a heartbeat to be taken out."""

    fewest_electrodes: Annotated[int, Field(ge=4, le=19)]
    fewest_beats: Annotated[int, Field(ge=10)]
    regular: Share
    """Share of the intervals between beats that must lie within 15 % of their median."""
    over_chance: Positive
    """Power of the mean beat over that of the mean of as many stretches without one."""


class ComponentSettings(Closed):
    """The fit of independent components and what is taken out."""

    fit_s: Positive
    """Most seconds of signal that labels look at."""
    fit_samples: Annotated[int, Field(ge=2000)]
    """Most samples that the fit reads, evenly out of those seconds."""
    fit_rate_hz: Positive
    """Labels look at the signal at the slowest whole part of the rate that is not below."""
    max_iterations: Annotated[int, Field(ge=10)]
    tolerance: Positive
    eye: Share
    muscle: Share
    heart: Share
    mains: Share
    channel: Share
    """Least probability of a label for its component to be removed."""
    eye_frontal: Share
    eye_correlation: Share
    eye_slow: Share
    """Second voice: frontal part of the topography, correlation with the electrodes at
    the eyes, part of the power that lies below 4 Hz."""
    eye_below_hz: Positive
    eye_factor: Positive
    eye_edge_s: Positive
    """What is taken out of an eye component: below this frequency, where it is so many
    times larger than in its quiet half seconds, and so long before and after."""
    outside_design: tuple[Component, ...]
    """Labels that still count where the recording does not reach what the network needs."""
    design_rate_hz: Positive
    design_high_hz: Positive
    """What it needs: sampling rate and highest frequency carried."""

    def least(self, label: Component) -> float:
        """Probability from which a label's component is removed; brain and other never are."""
        return getattr(self, label) if label not in ("brain", "other") else float("inf")


class CleanSettings(Closed):
    """Section `clean` of a settings version."""

    high_pass_hz: Positive
    mains: MainsSettings
    carried: CarriedSettings
    electrodes: ElectrodeSettings
    spans: SpanSettings
    heart: HeartSettings
    components: ComponentSettings
    muscle: MuscleSettings
    min_good_electrodes: Annotated[int, Field(ge=4, le=19)]
    min_usable_s: Positive
