"""The summary: the questions of a sitting answered in sentences with numbers."""

from dataclasses import dataclass

from aftersit.pages import reasons
from aftersit.pages.answers_drowsy import drowsy_answer
from aftersit.pages.answers_insight import insight_answers
from aftersit.pages.answers_reward import reward_answers
from aftersit.pages.answers_source import source_answer
from aftersit.pages.format import NONE, band, count, join, length, number, percent, place, sentence
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.phrases import felt_unpleasant
from aftersit.record import ConditionResult


@dataclass(frozen=True)
class Answer:
    """One question, the answer in one sentence, and what it rests on."""

    question: str
    lead: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """Answers about one thing; `about` is empty for the sitting as a whole."""

    about: str
    answers: tuple[Answer, ...]


def answer_all(inputs: SittingInputs) -> list[Group]:
    """All answers: the recording, each protocol, then source and limits."""
    groups = [Group("", (quality_answer(inputs), _drowsy(inputs)))]
    for replay in inputs.replays:
        about = title(replay) if len(inputs.replays) > 1 else ""
        groups.append(Group(about, protocol_answers(replay, felt_unpleasant(inputs.sheet))))
    about = "Sitting as a whole" if len(inputs.replays) > 1 else ""
    groups.append(Group(about, (_source(inputs), limits_answer(inputs))))
    return groups


def title(replay: Replayed) -> str:
    """The protocol's title and version."""
    return f"{replay.protocol.title}, version {replay.protocol.version}"


def quality_answer(inputs: SittingInputs) -> Answer:
    """Was the recording good enough, and what was lost."""
    found = inputs.record.quality
    usable = found.usable_s / found.duration_s if found.duration_s else None
    total = len(found.good_electrodes) + len(found.bad_electrodes)
    seconds = f"{length(found.usable_s)} of {length(found.duration_s)} are usable"
    electrodes = f"{len(found.good_electrodes)} of {total} electrodes served"
    if inputs.quality.scorable:
        lead = f"Yes: {seconds} ({percent(usable)}), and {electrodes}."
    else:
        short = {"too-few-electrodes": electrodes, "too-few-seconds": seconds}
        said = [short.get(code, code.replace("-", " ")) for code in inputs.quality.unusable]
        lead = f"No: {join(said)}, too few to score."
    return Answer("Was the recording good enough?", lead, tuple(_quality_details(inputs)))


def _quality_details(inputs: SittingInputs) -> list[str]:
    found = inputs.record.quality
    details = [
        sentence(f"Because {why}. {what}")
        for why, what in (
            reasons.why_and_what(reasons.NOT_SCORED, code) for code in inputs.quality.unusable
        )
    ]
    if found.bad_electrodes:
        left_out = [
            f"{name} ({join([reasons.plain(reasons.ELECTRODE, r) for r in why])})"
            for name, why in found.bad_electrodes.items()
        ]
        details.append(f"Left out for the whole sitting: {join(left_out)}.")
    if found.bad_seconds:
        lost = [
            f"{length(value)} to {reasons.plain(reasons.SPAN, code)}"
            for code, value in found.bad_seconds.items()
        ]
        details.append(f"Seconds lost: {join(lost)}.")
    carried = (found.carried_low_hz, found.carried_high_hz)
    details.append(f"The recording carries {band(carried)}; nothing is said outside that range.")
    return details


def protocol_answers(replay: Replayed, unpleasant: bool) -> tuple[Answer, ...]:
    """What one protocol's replay says, or why it says nothing."""
    if replay.record.status == "scored" and replay.record.cleaned is not None:
        parts = [*reward_answers(replay), *insight_answers(replay, unpleasant)]
        return (*_without(replay), *(Answer(*part) for part in parts))
    return (not_scored_answer(replay),)


def _without(replay: Replayed) -> list[Answer]:
    """Which conditions were refused although the protocol could be scored without them."""
    refused = [c for c in replay.record.conditions if c.refused]
    if not refused:
        return []
    names = join([c.name for c in refused])
    details = tuple(refusal_text(c, replay) for c in refused)
    lead = f"No: {names} can't be measured here. The others are scored without."
    return [Answer("Could every condition be measured?", lead, details)]


def not_scored_answer(replay: Replayed) -> Answer:
    """Why a protocol was not scored, and what to do."""
    pairs = _common_refusal(replay) or [
        reasons.why_and_what(reasons.NOT_SCORED, code) for code in replay.record.reasons
    ]
    why = join([why for why, _ in pairs]) or "no reason was recorded"
    details = [what for _, what in pairs]
    details += [refusal_text(c, replay) for c in replay.record.conditions if c.refused]
    return Answer(
        "When was the client in the target state?",
        f"Not scored, because {why}.",
        tuple(dict.fromkeys(details)),
    )


def _common_refusal(replay: Replayed) -> list[tuple[str, str]]:
    """The one reason for which every condition was refused, when nothing else came first."""
    codes = {c.refused for c in replay.record.conditions}
    if replay.record.reasons != ("all-conditions-refused",) or len(codes) != 1:
        return []
    return [reasons.why_and_what(reasons.REFUSED, codes.pop())]


def refusal_text(condition: ConditionResult, replay: Replayed) -> str:
    """Why one condition can't be applied, with the numbers, and what to do."""
    why, what = reasons.why_and_what(reasons.REFUSED, condition.refused)
    where = place(condition.place, condition.kind)
    text = f"{condition.name} ({where}, {band(condition.band_hz)}) was refused: {why}"
    if condition.refused == "band-not-in-recording":
        found = replay.record.quality
        text += f", which carries {band((found.carried_low_hz, found.carried_high_hz))}"
    return f"{text}. {what}"


def _drowsy(inputs: SittingInputs) -> Answer:
    return Answer("Was the client drifting towards sleep?", *drowsy_answer(inputs))


def _source(inputs: SittingInputs) -> Answer:
    return Answer("Brain or muscle?", *source_answer(inputs))


def limits_answer(inputs: SittingInputs) -> Answer:
    """What this recording can't tell."""
    served = len(inputs.record.quality.good_electrodes)
    details = [
        "Before and after within one person show a change, not its cause.",
        "No state of mind, practice or condition can be named from these signals; "
        "'in target' means only that the protocol's conditions were met.",
        "The replay uses this project's own head model, filters and units. It does not claim to "
        "be what the room's system computed or what the client heard.",
    ]
    if inputs.review is None:
        details.append("Nobody has reviewed this report yet.")
    return Answer(
        "What can this recording not tell?",
        f"Where in the head a signal arose: {count(served, 'electrode')} see every region "
        "blended with its neighbours.",
        tuple(details),
    )


def ratings(inputs: SittingInputs) -> list[tuple[str, str, str]]:
    """Self-ratings: name, before, after (0 to 10)."""
    before, after = inputs.sheet.ratings.before, inputs.sheet.ratings.after
    names = list(dict.fromkeys([*before, *after]))
    return [(n, _rating(before.get(n)), _rating(after.get(n))) for n in names]


def _rating(value: int | None) -> str:
    return NONE if value is None else number(value, 0)
