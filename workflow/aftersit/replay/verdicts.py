"""Why a sitting is not scored, and what to be careful about where it is."""

from collections.abc import Mapping

from aftersit.protocol import Condition
from aftersit.record import Caution, ConditionResult, Refusal
from aftersit.replay import conditions as cond
from aftersit.replay.baseline import baseline_for
from aftersit.replay.case import Case, Thresholds


def without_level(case: Case, thresholds: Thresholds | None) -> dict[str, Refusal]:
    """Conditions whose baselines hold too little that is usable to give any threshold."""
    if not thresholds:
        return {}
    return {
        c.name: "no-baseline"
        for i, c in enumerate(case.running)
        if all(row[i].value is None for row in thresholds.values())
    }


def reasons_of(case: Case, refused: Mapping[str, Refusal]) -> tuple[str, ...]:
    """Why the sitting is not scored; none when it is."""
    quality = case.sitting.quality
    reasons = [] if quality.scorable else list(quality.unusable)
    if not case.practices:
        reasons.append("no-practice-block")
    if len(refused) == len(case.protocol.conditions):
        reasons.append("all-conditions-refused")
    elif len(case.protocol.conditions) - len(refused) < case.protocol.needed:
        reasons.append("a-condition-refused")
    return tuple(reasons)


def described(
    case: Case, refused: Mapping[str, Refusal], thresholds: Thresholds
) -> tuple[ConditionResult, ...]:
    """The conditions as the record keeps them, with refusals and cautions."""
    return tuple(
        cond.describe(
            condition,
            case.sitting.regions,
            refused.get(condition.name),
            _cautions(case, condition, thresholds),
            case.delays.get(condition.name),
        )
        for condition in case.protocol.conditions
    )


def _cautions(case: Case, condition: Condition, thresholds: Thresholds) -> list[Caution]:
    cautions: list[Caution] = []
    if condition.rests_on_baseline:
        bases = [(baseline_for(case.sitting.blocks, p), p) for p in case.practices]
        if any(base and base.eyes != practice.eyes for base, practice in bases):
            cautions.append("baseline-eyes-differ")
        if _short(case, condition, thresholds):
            cautions.append("baseline-short")
    if len(case.sitting.quality.good) < case.settings.few_electrodes:
        cautions.append("few-electrodes")
    return cautions


def _short(case: Case, condition: Condition, thresholds: Thresholds) -> bool:
    """Whether a baseline that gave a threshold holds little that is usable."""
    if condition not in case.running:
        return False
    i = case.running.index(condition)
    usable = [row[i].usable_s for row in thresholds.values() if row[i].value is not None]
    return any(seconds < case.settings.baseline_short_s for seconds in usable)
