"""Threshold rules of a protocol's conditions."""

from typing import Annotated

from pydantic import Discriminator, Field, Tag

from aftersit.closed import Closed


def by_key(**models: type[Closed]):
    """Type of a group of lines that is one of several, told apart by a key of its own."""

    def kind(value: object) -> str | None:
        return next((key for key in models if _has(value, key)), None)

    union = None
    for key, model in models.items():
        tagged = Annotated[model, Tag(key)]
        union = tagged if union is None else union | tagged
    allowed = " or ".join(f"{key}: ..." for key in models)
    return Annotated[
        union,
        Discriminator(kind, custom_error_type="one_of", custom_error_message=f"allowed: {allowed}"),
    ]


def _has(value: object, key: str) -> bool:
    return key in value if isinstance(value, dict) else hasattr(value, key)


class AbsoluteThreshold(Closed):
    """A value in the measure's own unit."""

    absolute: Annotated[float, Field(gt=0)]


class BaselineThreshold(Closed):
    """Decibels over the measure's level in the baseline block."""

    db_over_baseline: Annotated[float, Field(ge=-30, le=30)]


class PercentileThreshold(Closed):
    """A percentile of the measure's smoothed values in the baseline block."""

    percentile_of_baseline: Annotated[float, Field(gt=0, lt=100)]


FixedRule = by_key(
    absolute=AbsoluteThreshold,
    db_over_baseline=BaselineThreshold,
    percentile_of_baseline=PercentileThreshold,
)


class Adaptive(Closed):
    """How an adaptive threshold moves."""

    target_rate: Annotated[float, Field(ge=0.05, le=0.95)]
    """Share of the time in which the condition is to be met."""
    speed_db_per_min: Annotated[float, Field(gt=0, le=60)]
    """A condition that is always met is tightened at this speed times (1 - target_rate),
    one that is never met is eased at this speed times target_rate."""
    start: FixedRule
    """Where the threshold starts."""


class AdaptiveThreshold(Closed):
    """A threshold that moves towards a target rate, from past values only."""

    adaptive: Adaptive

    @property
    def start_rule(self) -> FixedRule:
        """The fixed rule that it starts from."""
        return self.adaptive.start


Rule = by_key(
    absolute=AbsoluteThreshold,
    db_over_baseline=BaselineThreshold,
    percentile_of_baseline=PercentileThreshold,
    adaptive=AdaptiveThreshold,
)
