"""The answer to 'brain or muscle?': what cleaning removed, purity, neighbours, yardstick."""

from aftersit.muscle import yardstick
from aftersit.pages import reasons
from aftersit.pages.answers_muscle import muscle_details, muscle_lead
from aftersit.pages.cautious import mostly_removed
from aftersit.pages.format import band, count, join, number, percent, region
from aftersit.pages.inputs import SittingInputs
from aftersit.record import ConditionResult
from aftersit.sheet import Kind

FAR_ABOVE = 3.0
"""Times the published muscle-free power from which an electrode is named (our own choice: the
published numbers are an order of magnitude only)."""


def source_answer(inputs: SittingInputs) -> tuple[str, tuple[str, ...]]:
    """Lead and details."""
    if "too-few-electrodes" in inputs.quality.unusable:
        # Neither components nor regions mean anything on a few electrodes.
        return _lead(inputs), tuple(_gamma(inputs))
    details = [*muscle_details(inputs), *_removed(inputs), *_gamma(inputs), *_purity(inputs)]
    return _lead(inputs), tuple(details)


def _lead(inputs: SittingInputs) -> str:
    text = _muscle_found(inputs)
    powers = gamma_powers(inputs)
    far = far_above(powers)
    if not far:
        return text
    above = f"{len(far)} of {len(powers)} electrodes are far above muscle-free gamma."
    if len(far) > len(powers) / 2:
        return f"Muscle is likely to remain: {above} {text}"
    return f"{text} Muscle may remain: {above}"


def _muscle_found(inputs: SittingInputs) -> str:
    found = [c for c in inputs.quality.components if c.label == "muscle"]
    removed = [c for c in found if c.removed]
    if removed and any(mostly_removed(r.record) for r in inputs.replays):
        return (
            f"Mostly muscle, by this recording:{_most_gone(inputs)} of the uncleaned reward went "
            f"with cleaning, in which {_were(len(removed), 'muscle component')} removed."
        )
    judged = muscle_lead(inputs)
    if judged:
        return judged
    if removed:
        return f"Both: {_were(len(removed), 'muscle component')} removed{_reward_gone(inputs)}."
    if found:
        looked = count(len(found), "component")
        return f"{looked} looked like muscle, but not surely enough to be removed."
    return "No muscle component was found; that is no proof that there was no muscle."


def _were(n: int, noun: str) -> str:
    return f"{count(n, noun)} {'was' if n == 1 else 'were'}"


def _most_gone(inputs: SittingInputs) -> str:
    known = [s for r in inputs.replays if (s := r.record.removed_reward_share) is not None]
    return f" {'up to ' if len(known) > 1 else ''}{percent(max(known))}"


def _reward_gone(inputs: SittingInputs) -> str:
    shares = [r.record.removed_reward_share for r in inputs.replays]
    known = [s for s in shares if s is not None]
    if not known:
        return ""
    text = f", and with all cleaning {percent(max(known))} of the uncleaned reward went"
    return f"{text} under the protocol where most went" if len(known) > 1 else text


def far_above(powers: list[yardstick.GammaPower]) -> list[yardstick.GammaPower]:
    """The electrodes that are `FAR_ABOVE` the yardstick."""
    return [p for p in powers if p.times >= FAR_ABOVE]


def _removed(inputs: SittingInputs) -> list[str]:
    removed = [c for c in inputs.quality.components if c.removed]
    if not removed:
        return ["Cleaning removed no component."]
    parts = []
    for label in dict.fromkeys(c.label for c in removed):
        own = [c for c in removed if c.label == label]
        share = sum(c.variance_share for c in own)
        parts.append(f"{len(own)} {reasons.plain(reasons.COMPONENT, label)} ({percent(share)})")
    return [f"Components removed, with their share of the variance: {join(parts)}."]


def practice_blocks(inputs: SittingInputs) -> list[int]:
    """Numbers of the practice blocks."""
    return [b.index for b in inputs.blocks if b.kind is Kind.PRACTICE]


def gamma_powers(inputs: SittingInputs) -> list[yardstick.GammaPower]:
    """Power in the yardstick's band, or nothing where the recording does not carry it."""
    if inputs.spectra is None or not inputs.quality.carried.holds(yardstick.BAND_HZ):
        return []
    return yardstick.gamma_power(inputs.spectra, practice_blocks(inputs))


def _gamma(inputs: SittingInputs) -> list[str]:
    powers = gamma_powers(inputs)
    name = band(yardstick.BAND_HZ)
    if not powers:
        return [f"{name} could not be held against muscle-free gamma: it is not in the recording."]
    low, high = yardstick.RANGE_UV2
    published = (
        f"muscle-free scalps showed about {number(yardstick.POWER_UV2, 1, 'µV²')} "
        f"({number(low, 1)} to {number(high, 1)}; {yardstick.CITATION}; two people, an order of "
        "magnitude only)"
    )
    far = far_above(powers)
    if not far:
        top = powers[0]
        return [
            f"After cleaning, {name} in practice lies at that order everywhere, at most "
            f"{number(top.power_uv2, 1, 'µV²')} at {top.electrode}; {published}."
        ]
    named = [f"{p.electrode} {number(p.power_uv2, 1, 'µV²')}" for p in far[:4]]
    more = f" and {len(far) - 4} more" if len(far) > 4 else ""
    return [
        f"After cleaning, {name} in practice is still {number(FAR_ABOVE, 0)} times or more above "
        f"muscle-free gamma at {join(named)}{more}: fast bands there may be muscle; {published}."
    ]


def _purity(inputs: SittingInputs) -> list[str]:
    conditions = [c for r in inputs.replays for c in r.record.conditions if c.purity]
    unique = {c.place: c for c in conditions}
    return [purity_text(c) for c in unique.values()]


def purity_text(condition: ConditionResult) -> str:
    """How much of a region measure is the region, and what else it hears."""
    purity = condition.purity
    text = (
        f"Seen from the direction of the {region(condition.place)}: the region itself gives "
        f"{percent(purity.share)} of the measure when all cortex is equally active (no filter on "
        f"these electrodes passes {percent(purity.limit)})"
    )
    heard = [f"{region(name)} {percent(share)}" for name, share in purity.neighbours[:3]]
    return f"{text}; it also hears {join(heard)}." if heard else f"{text}."
