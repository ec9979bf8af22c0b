"""Settings of this stage that change results."""

from typing import Annotated, Literal

from pydantic import Field

from aftersit.closed import Closed


class Conductivity(Closed):
    """Of the three layers, in S/m."""

    brain: float = Field(gt=0)
    skull: float = Field(gt=0)
    scalp: float = Field(gt=0)


Limits = tuple[Annotated[float, Field(gt=0)], Annotated[float, Field(gt=0)]]


class PlausibleSettings(Closed):
    """How far the heads that a client's could be lie from the template."""

    heads: int = Field(ge=2, le=200)
    placements: int = Field(ge=1, le=50)
    """Ways of putting the cap on each head."""
    brain_over_skull: Limits
    scalp_over_brain: Limits
    """Ratios of conductivities, drawn evenly in their logarithm."""
    skull_mm: Limits
    skull_share: Limits
    """As `skull_max_mm` and `skull_share` of the template."""
    size_sd: float = Field(ge=0, le=0.1)
    """Standard deviation of each axis of the head over the template's."""
    misplaced_mm: Limits
    """How far each electrode lies from its place, along the scalp."""
    change_sd_db: float = Field(gt=0, le=20)
    """Standard deviation of the regions' own changes that contrasts are tried on."""

    @property
    def ratios(self) -> tuple[Limits, Limits]:
        """Of conductivities."""
        return self.brain_over_skull, self.scalp_over_brain


class AperiodicSettings(Closed):
    """How a spectrum's slope is told from its bumps."""

    low_hz: float = Field(gt=0)
    high_hz: float = Field(gt=0)
    """Range of the fit; it ends earlier where the recording does."""
    least_high_hz: float = Field(gt=0)
    """A recording that ends below it gets no slope."""
    max_peaks: int = Field(ge=0, le=12)
    min_peak_db: float = Field(ge=0)
    """Bumps lower than this over the slope are not fitted."""
    peak_width_hz: Limits
    """Limits of a bump's width (two standard deviations)."""
    least_r_squared: float = Field(ge=0, le=1)
    """A poorer fit is not shown."""


class HeadSettings(Closed):
    """Section `head` of a settings version."""

    conductivity_s_per_m: Conductivity
    skull_share: float = Field(gt=0.2, lt=0.9)
    """Part of the way from inner skull to scalp that is skull."""
    skull_max_mm: float = Field(ge=3, le=20)
    """Where the scalp is far (face, neck) the skull is no thicker than this."""
    mesh_level: int = Field(ge=2, le=4)
    """Subdivisions of the icosahedron behind each layer: 3 gives 642 vertices."""
    cortex_surface: Literal["white", "mid"]
    """Where the sources lie; mid is halfway from white matter to pia."""
    snr: float = Field(gt=0)
    """Assumed amplitude ratio of brain signal to sensor noise; lambda2 = 1 / snr^2."""
    sensor_noise_uv: float = Field(gt=0)
    """Assumed sensor noise; sets the unit of region measures."""
    limit_noise_share: float = Field(gt=0, lt=1)
    """Noise power per electrode over brain power per electrode, for the limit of purity."""
    selective_coverage: float = Field(gt=0, lt=1)
    """Part of a region's area that its selective measure must hear."""
    plausible: PlausibleSettings
    segment_s: float = Field(ge=1, le=10)
    """Length of the segments of the spectra."""
    segment_overlap: float = Field(ge=0, le=0.75)
    """Part of a segment that the next one shares."""
    aperiodic: AperiodicSettings
    spectra_low_hz: float = Field(gt=0)
    spectra_high_hz: float = Field(gt=0)
    """The spectra's table goes from low to high, or to half the sampling rate."""

    @property
    def lambda2(self) -> float:
        """Regularisation of the inverse solution."""
        return 1 / self.snr**2
