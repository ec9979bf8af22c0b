"""Settings of this stage that change results."""

from pydantic import Field

from aftersit.closed import Closed
from aftersit.insight.settings import InsightSettings


class DrowsySettings(Closed):
    """The rule that joins signs which often go with drowsiness; see `replay.drowsy`."""

    window_s: float = Field(ge=6, le=60, description="The signs are medians over this time.")
    level_share: float = Field(
        gt=0,
        lt=0.5,
        description="Part of the time, in one eyes state, that lies beyond the person's own level.",
    )
    level_min_s: float = Field(
        gt=0, description="Usable seconds in an eyes state without which there is no level."
    )
    alpha_out_db: float = Field(gt=0, description="Alpha under its level that counts as a sign.")
    theta_up_db: float = Field(gt=0, description="Theta over its level that counts as a sign.")
    together_db: float = Field(
        gt=0, description="Fall of alpha and rise of theta added up, where eyes do not roll."
    )
    rolls_db: float = Field(
        gt=0, description="How far slow rolling must stand out in every respect."
    )
    alpha_stands_db: float = Field(
        gt=0, description="Alpha over the rest of the spectrum that there must be to lose."
    )
    shortest_s: float = Field(ge=2, description="Shorter spans are not told.")
    bridge_s: float = Field(ge=0, description="Spans that are no further apart become one.")
    looked_min_s: float = Field(
        gt=0, description="Seconds of a block that the rule must have looked at for a verdict."
    )
    looked_min_share: float = Field(gt=0, le=1, description="The same, as a share of the block.")


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
    drowsy: DrowsySettings
