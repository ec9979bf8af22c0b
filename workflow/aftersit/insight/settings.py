"""Settings of comparisons, chance, what-if and advice that change results."""

from pydantic import Field

from aftersit.closed import Closed


class InsightSettings(Closed):
    """Group `replay.insight` of a settings version."""

    segment_s: float = Field(
        gt=0, description="Length of the segments whose means are compared across a break."
    )
    segment_known: float = Field(
        gt=0, le=1, description="Share of a segment that must be known for its mean to count."
    )
    segments_min: int = Field(
        ge=4, description="Segments needed on each side of a break for an interval."
    )
    change_cosines: int = Field(
        ge=2, le=20, description="Cosines of each side's variance when a break is compared."
    )
    share_cosines: int = Field(
        ge=2, le=20, description="Cosines of the variance of a block's time in target."
    )
    off_turns_min: int = Field(
        ge=2, description="Turns between reward and none, to say what was higher without."
    )
    window_s: float = Field(
        ge=1, le=10, description="Windows in which all regions and bands are looked at."
    )
    false_discovery_rate: float = Field(
        gt=0, lt=0.5, description="Of what is reported of all regions and bands over a break."
    )
    shifts: int = Field(ge=19, le=2000, description="Surrogates for what chance would give.")
    shift_min_s: float = Field(gt=0, description="Shifts nearer to none than this are left out.")
    what_if_db: float = Field(gt=0, le=20, description="How far thresholds are moved.")
    what_if_step_db: float = Field(gt=0, description="Steps of a single threshold.")
    what_if_both_step_db: float = Field(gt=0, description="Steps of two thresholds at once.")
    advice_target: float = Field(ge=0.1, le=0.95, description="Reward rate that is aimed at.")
    advice_step_db: float = Field(gt=0, le=6, description="Largest move that is advised.")
    advice_margin: float = Field(
        gt=0, lt=0.5, description="How near to the target both halves must come to be steady."
    )
    advice_known_s: float = Field(gt=0, description="Known time without which nothing is advised.")
    advice_removed: float = Field(
        gt=0,
        le=1,
        description="Share of the uncleaned reward gone with cleaning: too much to advise.",
    )
    advice_drowsy: float = Field(
        gt=0, le=1, description="Share of the scored blocks suspected of drowsiness: too much."
    )
