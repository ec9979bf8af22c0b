"""Settings of this stage that change results."""

from pydantic import Field

from aftersit.closed import Closed
from aftersit.insight.settings import InsightSettings


class ReplaySettings(Closed):
    """Section `replay` of a settings version."""

    filter_order: int = Field(
        ge=1,
        le=8,
        description="Order of the causal Butterworth prototype; a band-pass has twice it.",
    )
    settle_energy: float = Field(
        ge=0.9,
        lt=1,
        description="Share of the impulse response's energy at which a filter has settled.",
    )
    notch_quality: float = Field(
        ge=5,
        le=100,
        description="Centre over width of the causal notches that the uncleaned replay takes.",
    )
    notch_heard_db: float = Field(
        ge=-80, le=0, description="A band-pass that passes mains with more than this gets a notch."
    )
    baseline_min_s: float = Field(
        gt=0, description="Fewer usable seconds of baseline than this carry no threshold."
    )
    baseline_short_s: float = Field(
        gt=0, description="Fewer usable seconds of baseline than this are marked as short."
    )
    few_electrodes: int = Field(
        ge=2, description="Fewer good electrodes than this are marked with each condition."
    )
    insight: InsightSettings
