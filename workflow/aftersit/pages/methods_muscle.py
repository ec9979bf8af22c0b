"""How muscle was looked for and taken out, worded from the settings and this sitting."""

from aftersit.muscle.model import FAST_HZ
from aftersit.pages.format import band, count, number
from aftersit.pages.inputs import SittingInputs


def muscle_methods(inputs: SittingInputs) -> str:
    """One paragraph."""
    settings = inputs.settings.clean.muscle
    rule, pattern = settings.verdict, inputs.quality.muscle_pattern
    if pattern is None:
        learnt = (
            "The recording does not reach far enough above 50 Hz to learn muscle's pattern, so "
            "none was taken out beyond labelled components."
        )
    else:
        learnt = (
            f"Muscle's spatial pattern was learnt from {number(settings.upper_from_hz, 0)} Hz on, "
            f"less the amplifiers' noise and {settings.brain_ratio:g} of the {band(FAST_HZ)} "
            f"covariance (the most that brain can give by published slopes), and "
            f"{count(len(pattern.kept), 'direction')} in which it stood out against an equally "
            f"active cortex were damped above {number(pattern.crossover_hz, 0)} Hz by the Wiener "
            "filter; what an equally active cortex loses with them was made up for in each "
            "condition's measure, and not in the tables of band power and slopes."
        )
    return (
        f"{learnt} Each condition's evidence was put on scales from against to for: the share of "
        f"the measure that muscle makes ({rule.share[0]:g} to {rule.share[1]:g}), power in "
        f"{band(FAST_HZ)} over that of a scalp without muscle ({rule.level_db[0]:g} to "
        f"{rule.level_db[1]:g} dB) and the slope of the density above 20 Hz "
        f"({rule.slope[0]:g} to {rule.slope[1]:g}), and correlation with the edge of the scalp "
        f"above the band ({rule.follows[0]:g} to {rule.follows[1]:g}); with weights "
        f"{rule.weights.share:g}, {rule.weights.spectrum:g} and {rule.weights.follows:g} their "
        f"mean is suspect from {rule.suspect_from:g} and shows no sign up to {rule.none_to:g}. "
        "Without any share the rule never says that no sign was found."
    )
