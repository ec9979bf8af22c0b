"""Answers of one replay: was it more than chance, what the room logged, what to set next."""

from aftersit.findings import Advice, Agreement, Chance, Insight
from aftersit.pages import reasons
from aftersit.pages.answers_change import counted
from aftersit.pages.format import (
    band,
    count,
    db,
    interval_percent,
    join,
    length,
    number,
    percent,
    probability,
    sentence,
)
from aftersit.pages.inputs import Replayed

Parts = tuple[str, str, tuple[str, ...]]

ALPHA = 0.05
"""Probability below which more than chance is said."""


def insight_answers(replay: Replayed, unpleasant: bool) -> list[Parts]:
    """Question, lead and details for what the replay's insight answers.

    Parameters
    ----------
    unpleasant : bool
        Whether the sheet codes an unpleasant experience: nothing is advised then.
    """
    found = replay.record.insight
    if found is None:
        return []
    answers = [by_chance(found.chance)]
    if found.agreement:
        answers.append(room(found.agreement))
    return [*answers, next_time(found.advice, unpleasant)]


def by_chance(found: Chance) -> Parts:
    """Whether the conditions met more than by chance, and what flickers through."""
    return "Was it more than chance?", _chance_lead(found), tuple(_chance_details(found))


def _chance_lead(found: Chance) -> str:
    if found.unrelated is None:
        if found.baseline is None:
            return "This can't be told: there is no baseline, and no second condition to compare."
        return (
            f"In target {percent(found.reward_share)}; the same thresholds over the baseline "
            f"give {percent(found.baseline.reward_share)}."
        )
    hardest = found.only_leakage or found.unrelated
    together = f"together {percent(found.together_share)} of the time"
    expected = f"{percent(found.unrelated.together_share)} if they were unrelated"
    if found.only_leakage:
        expected += f", {percent(found.only_leakage.together_share)} by leakage alone"
    if hardest.p < ALPHA:
        return f"The conditions met more than by chance: {together}, against {expected}."
    return f"No sign that the conditions met more than by chance: {together}; {expected}."


def _chance_details(found: Chance) -> list[str]:
    details = []
    for words, expected in (
        ("If the conditions were unrelated", found.unrelated),
        ("By what the measures hear of each other (leakage)", found.only_leakage),
    ):
        if expected:
            between = interval_percent(expected.together_low, expected.together_high)
            details.append(
                f"{words}: together {percent(expected.together_share)} ({between}), in target "
                f"{percent(expected.reward_share)}, longest bout {length(expected.longest_bout_s)} "
                f"on average; as much together as was seen has p {probability(expected.p)}."
            )
    if found.baseline:
        details.append(
            f"In the baseline (block {found.baseline.block}) the same thresholds would have "
            f"rewarded {percent(found.baseline.reward_share)}, longest bout "
            f"{length(found.baseline.longest_bout_s)}: so much flickers through by itself."
        )
    return details


def room(found: tuple[Agreement, ...]) -> Parts:
    """How the replay agrees with what the room's system logged."""
    details = [_agreement_sentence(a) for a in found]
    return "Does it agree with what the room logged?", details[0], tuple(details[1:])


def _agreement_sentence(found: Agreement) -> str:
    text = (
        f"{found.replay.capitalize()} replay: {percent(found.replayed_share)} of known time "
        f"rewarded, {percent(found.logged_share)} logged"
    )
    if found.kappa is not None:
        text += f"; kappa {number(found.kappa, 2)}"
        if found.lag_s:
            when = "later" if found.lag_s > 0 else "earlier"
            text += (
                f", {number(found.kappa_at_lag, 2)} with the log {length(abs(found.lag_s))} {when}"
            )
    missed = count(found.missed_bouts, "logged bout")
    extra = count(found.extra_bouts, "replayed bout")
    return f"{text}; {missed} without a replayed one, {extra} without a logged one."


def next_time(found: Advice, unpleasant: bool) -> Parts:
    """What could be set next, or why nothing is advised."""
    question = "What could be set next time?"
    if unpleasant:
        return question, "No advice: something unpleasant was coded. Talk first.", ()
    if found.refused:
        why = join([reasons.plain(reasons.NO_ADVICE, code) for code in found.refused])
        return question, f"No advice: {why}.", ()
    moves = [
        f"{t.condition} {db(t.stricter_db) if t.stricter_db else 'as it is'}"
        for t in found.thresholds
    ]
    lead = (
        f"For a reward rate of {percent(found.target_share)}, a common practice and no correct "
        f"value: {join(moves)} (plus is stricter)"
    )
    return question, f"{lead}.", tuple(_advice_details(found))


def _advice_details(found: Advice) -> list[str]:
    details = [
        f"All of them together would have given {percent(found.expected_share)} in this sitting."
    ]
    limited = [t.condition for t in found.thresholds if t.limited]
    if limited:
        details.append(f"Held back to the largest step that is advised: {join(limited)}.")
    unsure = [
        t.condition for t in found.thresholds if t.db_over_baseline is not None and t.low_db is None
    ]
    if unsure:
        details.append(f"How sure it is can't be told, the time was too short: {join(unsure)}.")
    if found.halves and found.steady is False:
        one, other = (percent(rate) for rate in found.halves)
        details.append(
            f"The sitting was not steady: thresholds of one half give {one} and {other} in the "
            "other. Take the advice with care."
        )
    details.append("A threshold near the baseline lets chance through; a rate is no skill.")
    return details


def lost_sentence(found: Insight) -> str | None:
    """What took the uncleaned reward away that the cleaned replay does not give."""
    lost = found.lost
    if lost.lost_s <= 0:
        return None
    ranked = sorted(lost.by_reason_s.items(), key=lambda item: -item[1])
    named = [f"{length(s)} with {reasons.plain(reasons.LOST, code)}" for code, s in ranked]
    return sentence(f"of the uncleaned reward {length(lost.lost_s)} went: {join(named)}")


def off_sentence(found: Insight) -> str | None:
    """What was higher while the reward stayed off; never as what kept it away."""
    scan = found.reward_off
    if scan is None:
        return None
    tested = f"Of {scan.tested} other pairs of region and band"
    higher = [c for c in scan.found if c.higher_db > 0]
    if not higher:
        return (
            f"{tested}, none was higher while the reward stayed off, beyond what so many tests "
            "give by chance."
        )
    text = f"{tested}, {len(higher)} were higher while the reward stayed off: "
    text += counted(f"in {c.band} ({band(c.band_hz)})" for c in higher)
    if any(c.heard_by for c in higher):
        bands = join(list(dict.fromkeys(c.band for c in higher if c.heard_by)))
        text += f". Conditions listen to {bands}: there leakage alone makes such differences"
    return (
        f"{text}. Seen together, not a cause; regions hear each other, and fast bands may be "
        "muscle."
    )
