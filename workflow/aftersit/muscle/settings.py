"""Settings of the muscle model that change results."""

from typing import Annotated

from pydantic import Field

from aftersit.closed import Closed

Positive = Annotated[float, Field(gt=0)]
Share = Annotated[float, Field(gt=0, lt=1)]


class Weights(Closed):
    """How much each kind of evidence counts."""

    share: Positive
    spectrum: Positive
    follows: Positive


class VerdictSettings(Closed):
    """The rule that joins the evidence."""

    share: tuple[float, float]
    level_db: tuple[float, float]
    slope: tuple[float, float]
    follows: tuple[float, float]
    """From where to where each kind of evidence goes from against to for."""
    weights: Weights
    none_to: Share
    suspect_from: Share
    """Scores up to the first are 'no-sign-found', from the second on 'suspect'."""
    tense_quantile: Share
    """Part of a block's windows below its tense part."""


class MuscleSettings(Closed):
    """Learning the muscle's pattern and taking it out of fast rhythms."""

    upper_from_hz: Positive
    upper_to_hz: Positive
    """Where the pattern is learnt."""
    upper_least_ratio: Annotated[float, Field(gt=1)]
    """Least upper end over lower end for a pattern to be learnt at all."""
    crossover_hz: Positive
    """Above it the pattern is taken out."""
    brain_ratio: Share
    """The brain's density in the upper range over that in 30-45 Hz, at most."""
    brain_slope: Positive
    """Fall of the brain's density inside the upper range, as a power of frequency."""
    slope_limits: tuple[float, float]
    """Of the muscle's own fall, as a power of frequency."""
    usual_slope: float
    slope_least_step: Annotated[float, Field(gt=1)]
    """Where the halves of the upper range lie closer than this, the usual slope is taken."""
    unheard_share: Share
    """Noise beside the cortex's pattern, over the mean of its directions."""
    weight_quantile: Share
    """Windows count by their power, up to this quantile."""
    least_windows: Annotated[int, Field(ge=10)]
    least_kept: Share
    """Directions of which more is kept are left alone."""
    verdict: VerdictSettings
