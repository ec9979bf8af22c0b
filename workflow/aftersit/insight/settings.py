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
    window_s: float = Field(
        ge=1, le=10, description="Windows in which all regions and bands are looked at."
    )
    false_discovery_rate: float = Field(
        gt=0, lt=0.5, description="Of what is reported of all regions and bands over a break."
    )
