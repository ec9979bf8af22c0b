"""How drowsy signs were looked for, worded from the settings and this sitting's limits."""

from aftersit.clean.drowsy import ALPHA_HZ, THETA_HZ
from aftersit.pages import reasons
from aftersit.pages.format import band, join
from aftersit.pages.inputs import SittingInputs

CITATION = (
    "American Academy of Sleep Medicine. The AASM manual for the scoring of sleep and associated "
    "events: stage N1 and slow eye movements (as quoted by teaching texts)."
)


def looked_for(inputs: SittingInputs) -> bool:
    """Whether anything was measured that the rule could go by."""
    return "not-measured" not in inputs.quality.drowsy.limits


def drowsy_methods(inputs: SittingInputs) -> str:
    """One paragraph."""
    limits = inputs.quality.drowsy.limits
    if not looked_for(inputs):
        return "Drowsy signs were not looked for."
    rule = inputs.settings.replay.drowsy
    text = (
        "Signs that often go with drowsiness were taken as medians over "
        f"{rule.window_s:g} s, against the person's own level in this sitting and eyes state. "
        f"With closed eyes, suspect is posterior alpha ({band(ALPHA_HZ)}) down by at least "
        f"{rule.alpha_out_db:g} dB with theta ({band(THETA_HZ)}, the median of electrodes away "
        f"from the front) up by at least {rule.theta_up_db:g} dB, together by "
        f"{rule.together_db:g} dB; or slow rolling of the eyes (0.2\N{EN DASH}0.6 Hz at F7 "
        "against F8, before the high-pass and with eye components) with either. With open eyes "
        f"it is rolling with theta. Spans under {rule.shortest_s:g} s were left out. The rule "
        "follows the signs of light sleep in sleep scoring and stages nothing."
    )
    why = [reasons.why_and_what(reasons.DROWSY, code)[0] for code in limits]
    return f"{text} Part of it could not be used: {join(why)}." if why else text
