"""Which sentences a handout says: rules from records and the sheet, no words here.

Every key lies under `handout` in the words file. Rules are tried from the top.

What we looked at (`looked`, `conditions`, `goal`): the cap, the practice, and the
conditions of the first protocol that was scored (of the first when none was), each
with its band and direction, at most three; `look.goal_all`, `look.goal_any` or
`look.goal_some` with several conditions, `look.other_goals` with several protocols,
`look.again` when scored.

How it went (`care`, `went`)

| when | sentences |
|---|---|
| something unpleasant was coded | first, apart, `how.unpleasant`, `how.unpleasant_means` |
| no record was scored | `how.not_scored`, why, `how.not_your_doing` |
| - too few electrodes or seconds | `how.not_clear` |
| - no practice block | `how.no_practice` |
| - refused: band, baseline, place | `how.no_rhythm`, `how.no_baseline`, `how.no_place` |
| scored | `how.time`, or `how.time_almost_all` from 95 %, or `how.time_all` when nothing is lost |
| - with bouts | `how.bout`, or `how.bouts` and `how.longest` |
| - half or more of the reward gone after cleaning | `how.none` without bouts; `how.muscle` or
    `how.cleaned`; `how.little_to_say` |
| - no bouts, one condition never met | `how.none`, `how.out_of_reach` |
| - no bouts, several conditions, each met at times | `how.none`, `how.not_together` |
| - no bouts, one condition, met at times | `how.none`, `how.too_short` |
| - bouts that are rare and short crossings only (`cautious.only_crossings`) | `how.brief`,
    `how.brief_means` |
| - with bouts, nothing unpleasant | `how.come_and_go` |
| - muscle suspect in a scored block, not named before | `how.tense`, `how.tense_means` |
| - drowsy signs suspected in the practice | `how.drowsy`, `how.drowsy_means` |
| - and a fifth or more of the reward lies there | `how.drowsy_goal` |
| - electrodes left out, and cleaned and uncleaned far apart | `how.sensor` or `how.sensors` |
| - eyes differ between baseline and practice | `how.eyes`, `how.eyes_mean` |
| - few electrodes or a short baseline | `how.less_sure` |
| - another protocol of the sitting was not scored | `how.part_not_scored` |

What to try next (`next`): at most two, the first rule that fits

| when | sentences |
|---|---|
| something unpleasant was coded | `try_next.stop`, `try_next.talk`: never 'do more' |
| not scored for quality | `try_next.cap`, `try_next.note` |
| not scored for want of a baseline | `try_next.baseline`, `try_next.note` |
| not scored for another reason | `try_next.settings`, `try_next.note` |
| reward mostly gone, muscle or eye components removed | `try_next.loosen`, the practice's own |
| reward mostly gone otherwise | `try_next.cap`, the practice's own |
| out of reach, or crossings only | `try_next.keep`, `try_next.level` |
| - and drowsy signs suspected | `try_next.awake`, `try_next.level` |
| drowsy signs suspected | `try_next.awake`, the practice's own |
| muscle suspect | `try_next.loosen`, the practice's own |
| eyes differ | the practice's own, `try_next.same_eyes` |
| else | the practice's own, `try_next.note` |
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from aftersit.pages.cautious import DROWSY_REWARD, MOSTLY_REMOVED, far_apart
from aftersit.pages.head_parts import head_part
from aftersit.pages.tally import Tally, tally
from aftersit.pages.values import Duration, Value, Word
from aftersit.record import ConditionResult, Record
from aftersit.sheet import Sheet, Unpleasant

# Limits of the rules: our own choices, no source.
ALMOST_ALL = 0.95
"""Share of the practice that could be scored from which 'almost all' is said."""
MOST_CONDITIONS = 3
"""Conditions told one by one; the others are counted."""

CARE = ("how.unpleasant", "how.unpleasant_means")
QUALITY = {"too-few-electrodes", "too-few-seconds"}
REFUSED = {
    "band-not-in-recording": "no_rhythm",
    "no-baseline": "no_baseline",
    "region-unknown": "no_place",
    "electrode-missing": "no_place",
}


@dataclass(frozen=True)
class Phrase:
    """A sentence by its key, with what fills its placeholders."""

    key: str
    values: dict[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Story:
    """What a handout says, section by section."""

    looked: tuple[Phrase, ...]
    conditions: tuple[Phrase, ...]
    goal: tuple[Phrase, ...]
    care: tuple[Phrase, ...]
    went: tuple[Phrase, ...]
    next: tuple[Phrase, ...]
    cannot: tuple[Phrase, ...]


def felt_unpleasant(sheet: Sheet) -> bool:
    """Whether the sheet codes an unpleasant experience."""
    return any(code != Unpleasant.NONE for code in sheet.unpleasant)


def story(records: Sequence[Record], unpleasant: bool) -> Story:
    """Choose the sentences of one sitting's handout.

    Parameters
    ----------
    records : sequence of Record
        One for each protocol of the sitting; at least one.
    unpleasant : bool
        Whether the sheet codes an unpleasant experience.
    """
    told = tally(records)
    first = next((r for r in records if r.status == "scored"), records[0])
    return Story(
        looked=(
            _say("look.cap"),
            _say("look.practice", practice=Word(f"practice.{records[0].practice.value}")),
            _say("look.rhythms"),
        ),
        conditions=tuple(_conditions(first.conditions)),
        goal=tuple(_goal(first, len(records), told is not None)),
        care=tuple(_say(k) for k in CARE) if unpleasant else (),
        went=tuple(_went(records, told, unpleasant)),
        next=tuple(_next(records, told, unpleasant)),
        cannot=tuple(_say(f"cant_tell.{k}") for k in ("feeling", "place", "cause", "no_sign")),
    )


def _say(key: str, **values: Value) -> Phrase:
    return Phrase(f"handout.{key}", values)


def _conditions(conditions: Sequence[ConditionResult]) -> list[Phrase]:
    shown = [
        _say(
            f"look.{c.direction}",
            low=c.band_hz[0],
            high=c.band_hz[1],
            place=Word(f"place.{head_part(c)}"),
        )
        for c in conditions[:MOST_CONDITIONS]
    ]
    left = len(conditions) - len(shown)
    if left:
        shown.append(_say("look.one_more") if left == 1 else _say("look.more", n=left))
    return shown


def _goal(record: Record, n_protocols: int, scored: bool) -> list[Phrase]:
    keys = ["other_goals"] if n_protocols > 1 else []
    keys += ["again"] if scored else []
    return [_combination(record), *(_say(f"look.{key}") for key in keys)]


def _combination(record: Record) -> Phrase:
    total = len(record.conditions)
    needed = total if record.needed is None else record.needed
    if total == 1:
        return _say("look.goal")
    if needed == total:
        return _say("look.goal_all")
    return _say("look.goal_any") if needed == 1 else _say("look.goal_some", n=needed)


def _went(records: Sequence[Record], told: Tally | None, unpleasant: bool) -> list[Phrase]:
    if told is None:
        keys = ["how.not_scored", *_why_not_scored(records), "how.not_your_doing"]
        return [_say(key) for key in keys]
    reading, limits = map(_say, _reading(told, unpleasant)), map(_say, _limits(records))
    return [_time(told), *_bouts(told), *reading, *_tense(told), *_drowsy(told), *limits]


def _tense(told: Tally) -> list[Phrase]:
    """Where the reward went with cleaning, muscle has been named already."""
    if not told.muscle_suspect or (_mostly_removed(told) and told.muscle_or_eye):
        return []
    return [_say("how.tense"), _say("how.tense_means")]


def _drowsy(told: Tally) -> list[Phrase]:
    if not told.drowsy_s:
        return []
    keys = ["how.drowsy_goal"] if told.drowsy_share >= DROWSY_REWARD else []
    total = Duration(told.drowsy_s)
    return [_say("how.drowsy", total=total), *map(_say, ["how.drowsy_means", *keys])]


def _why_not_scored(records: Sequence[Record]) -> list[str]:
    reasons = {reason for record in records for reason in record.reasons}
    if reasons & QUALITY:
        return ["how.not_clear"]
    if "no-practice-block" in reasons:
        return ["how.no_practice"]
    refused = {REFUSED[c.refused] for r in records for c in r.conditions if c.refused}
    return [f"how.{key}" for key in dict.fromkeys(REFUSED.values()) if key in refused]


def _time(told: Tally) -> Phrase:
    practice = Duration(told.practice_s)
    if told.scored_s >= told.practice_s:
        return _say("how.time_all", practice=practice)
    if told.scored_s >= ALMOST_ALL * told.practice_s:
        return _say("how.time_almost_all", practice=practice)
    return _say("how.time", practice=practice, usable=Duration(told.scored_s))


def _bouts(told: Tally) -> list[Phrase]:
    if told.bouts == 0:
        return [_say("how.none")]
    longest = Duration(told.longest_s)
    if told.bouts == 1:
        return [_say("how.bout", longest=longest)]
    total = Duration(told.reward_s)
    return [
        _say("how.bouts", n=told.bouts, total=total),
        _say("how.longest", longest=longest),
    ]


def _mostly_removed(told: Tally) -> bool:
    return told.removed_share is not None and told.removed_share >= MOSTLY_REMOVED


def _reading(told: Tally, unpleasant: bool) -> list[str]:
    if _mostly_removed(told):
        return ["how.muscle" if told.muscle_or_eye else "how.cleaned", "how.little_to_say"]
    if told.only_crossings:
        return ["how.brief", "how.brief_means"]
    if told.bouts:
        return [] if unpleasant else ["how.come_and_go"]
    if told.never_met:
        return ["how.out_of_reach"]
    return ["how.not_together" if told.n_conditions > 1 else "how.too_short"]


def _limits(records: Sequence[Record]) -> list[str]:
    scored = [r for r in records if r.status == "scored"]
    cautions = {code for r in scored for c in r.conditions for code in c.cautions}
    keys = []
    left_out = max((len(r.quality.bad_electrodes) for r in scored if far_apart(r)), default=0)
    if left_out:
        keys.append("how.sensor" if left_out == 1 else "how.sensors")
    if "baseline-eyes-differ" in cautions:
        keys += ["how.eyes", "how.eyes_mean"]
    if cautions & {"few-electrodes", "baseline-short"}:
        keys.append("how.less_sure")
    if len(scored) < len(records):
        keys.append("how.part_not_scored")
    return keys


def _next(records: Sequence[Record], told: Tally | None, unpleasant: bool) -> list[Phrase]:
    own = f"practice.{records[0].practice.value}"
    if unpleasant:
        keys = ["stop", "talk"]
    elif told is None:
        fix = {"how.not_clear": "cap", "how.no_baseline": "baseline"}
        why = _why_not_scored(records)
        keys = [fix.get(why[0], "settings") if len(why) == 1 else "settings", "note"]
    elif _mostly_removed(told):
        keys = ["loosen" if told.muscle_or_eye else "cap", own]
    elif told.only_crossings or (told.bouts == 0 and told.never_met):
        keys = ["awake" if told.drowsy_s else "keep", "level"]
    elif told.drowsy_s:
        keys = ["awake", own]
    elif told.muscle_suspect:
        keys = ["loosen", own]
    else:
        keys = [own, "same_eyes" if "how.eyes" in _limits(records) else "note"]
    return [_say(f"try_next.{key}") for key in keys]
