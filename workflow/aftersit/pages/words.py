"""Every sentence that clients and the front desk read: one file for each language.

A clinic changes sentences in its own `words.yaml`, with the same keys as
`templates/words/<language>.yaml`; what it leaves out stays as shipped. All
sentences are checked when they are loaded, which is before a night starts.
"""

from __future__ import annotations

import functools
from pathlib import Path
from string import Formatter
from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.errors import AftersitError, InvalidFileError
from aftersit.pages.style import TEMPLATES
from aftersit.pages.values import Value, shown
from aftersit.plain_yaml import load_plain_yaml
from aftersit.sheet import Practice

FOLDER = TEMPLATES / "words"


def _fits(placeholders: tuple[str, ...], sentence: str) -> str:
    """The sentence, if it asks for nothing but its own placeholders."""
    allowed = ", ".join(f"{{{p}}}" for p in placeholders) or "none"
    try:
        parts = list(Formatter().parse(sentence))
    except ValueError:
        raise ValueError(
            f"a curly bracket stands alone; placeholders allowed here: {allowed}"
        ) from None
    for _, name, spec, conversion in parts:
        if name is not None and (name not in placeholders or spec or conversion):
            raise ValueError(f"'{{{name}}}' does not fit; placeholders allowed here: {allowed}")
    if any(ord(c) < 32 for c in sentence):
        raise ValueError("a sentence stands on one line, without control characters")
    return sentence.strip()


def sentence(*placeholders: str):
    """Type of a sentence that may use these placeholders."""
    fits = functools.partial(_fits, placeholders)
    return Annotated[str, Field(min_length=1, max_length=300), AfterValidator(fits)]


Plain = sentence()


class CautionWords(Closed):
    """What stands on every page; order as printed."""

    training: Plain
    not_a_device: Plain
    not_read_for: Plain
    unpleasant: Plain
    what_to_do: Plain
    clinician: Plain
    rules: Plain


class TimeWords(Closed):
    """Lengths of time inside a sentence."""

    second: Plain
    seconds: sentence("n")
    minute: Plain
    minutes: sentence("n")
    both: sentence("minutes", "seconds")


class PlaceWords(Closed):
    """Parts of the head."""

    front: Plain
    front_left: Plain
    front_right: Plain
    side: Plain
    side_left: Plain
    side_right: Plain
    top: Plain
    top_left: Plain
    top_right: Plain
    back: Plain
    back_left: Plain
    back_right: Plain
    middle: Plain
    several: Plain


class LookWords(Closed):
    """What we looked at."""

    cap: Plain
    practice: sentence("practice")
    rhythms: Plain
    above: sentence("low", "high", "place")
    below: sentence("low", "high", "place")
    more: sentence("n")
    one_more: Plain
    goal: Plain
    goal_all: Plain
    goal_any: Plain
    goal_some: sentence("n")
    other_goals: Plain
    again: Plain


class HowWords(Closed):
    """How it went."""

    time: sentence("practice", "usable")
    time_all: sentence("practice")
    time_almost_all: sentence("practice")
    bout: sentence("longest")
    bouts: sentence("n", "total")
    longest: sentence("longest")
    come_and_go: Plain
    brief: Plain
    brief_means: Plain
    tense: Plain
    tense_means: Plain
    drowsy: sentence("total")
    drowsy_means: Plain
    drowsy_goal: Plain
    sensor: Plain
    sensors: Plain
    none: Plain
    out_of_reach: Plain
    not_together: Plain
    too_short: Plain
    not_scored: Plain
    not_clear: Plain
    no_practice: Plain
    no_rhythm: Plain
    no_baseline: Plain
    no_place: Plain
    part_not_scored: Plain
    not_your_doing: Plain
    muscle: Plain
    cleaned: Plain
    little_to_say: Plain
    less_sure: Plain
    eyes: Plain
    eyes_mean: Plain
    unpleasant: Plain
    unpleasant_means: Plain


class TryWords(Closed):
    """What to try next; the ones by practice are chosen when nothing else comes first."""

    stop: Plain
    talk: Plain
    loosen: Plain
    keep: Plain
    level: Plain
    cap: Plain
    settings: Plain
    baseline: Plain
    same_eyes: Plain
    awake: Plain
    note: Plain
    practice: dict[Practice, Plain]


class CannotWords(Closed):
    """What the page can't tell."""

    feeling: Plain
    place: Plain
    cause: Plain
    no_sign: Plain


class PictureWords(Closed):
    """The picture and the words that stand for it."""

    practice: Plain
    goal: Plain
    not_scored: Plain
    other: Plain
    minutes: Plain
    alt: sentence("length")
    alt_practice: sentence("practice")
    alt_goal: sentence("n", "total")
    alt_goal_once: sentence("total")
    alt_no_goal: Plain
    alt_not_scored: Plain


class HandoutWords(Closed):
    """The client's page."""

    title: Plain
    document: sentence("client", "sitting", "date")
    client: Plain
    sitting: Plain
    date: Plain
    name: Plain
    not_reviewed: Plain
    reviewed: sentence("reviewer", "date")
    looked: Plain
    went: Plain
    next: Plain
    cannot: Plain
    message: Plain
    message_cut: Plain
    cautions: Plain
    call: Plain
    call_who: sentence("who")
    phone: Plain
    email: Plain
    urgent: Plain
    look: LookWords
    how: HowWords
    try_next: TryWords
    cant_tell: CannotWords
    picture: PictureWords


class DigestWords(Closed):
    """The night's digest, read by the front desk."""

    title: sentence("date")
    summary: Plain
    done: Plain
    had_already: Plain
    had_already_means: Plain
    set_aside: Plain
    set_aside_means: Plain
    failed: Plain
    failed_means: Plain
    waiting: Plain
    waiting_means: Plain
    denied: Plain
    denied_means: Plain
    to_review: Plain
    review_means: Plain
    person: Plain
    person_means: Plain
    nothing: Plain
    upload: Plain
    protocols: Plain
    result: Plain
    scored: Plain
    not_scored: Plain
    not_scored_count: Plain
    codes_found: Plain
    clinician_page: Plain
    clinician_pdf: Plain
    handout_page: Plain
    progress_page: Plain
    what_to_do: Plain
    stage: Plain
    log: Plain
    why: Plain
    disk: Plain
    disk_free: sentence("free", "used")
    times: sentence("started", "ended")
    good_to_know: Plain
    codes: dict[Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]*$")], Plain]
    """Reasons, refusals, cautions and steps in words; a code that is not here stays a code."""


class Words(Closed):
    """All sentences of one language."""

    language: Annotated[str, Field(pattern=r"^[a-z]{2}$")]
    caution: CautionWords
    practice: dict[Practice, Plain]
    place: PlaceWords
    time: TimeWords
    handout: HandoutWords
    digest: DigestWords

    @model_validator(mode="after")
    def _every_practice(self):
        for name, found in (
            ("practice", self.practice),
            ("handout.try_next.practice", self.handout.try_next.practice),
        ):
            missing = [p.value for p in Practice if p not in found]
            if missing:
                raise ValueError(f"{name}: missing {', '.join(missing)}")
        return self

    @property
    def cautions(self) -> tuple[str, ...]:
        """The sentences that stand on every page."""
        return tuple(self.caution.model_dump().values())

    def of(self, key: str) -> str:
        """The sentence under a key such as `handout.how.bouts`, placeholders unfilled."""
        found: object = self
        for part in key.split("."):
            found = found[Practice(part)] if isinstance(found, dict) else getattr(found, part)
        if not isinstance(found, str):
            raise KeyError(key)
        return found

    def say(self, key: str, **values: Value) -> str:
        """The sentence under a key with its values shown the language's way."""
        return self.of(key).format_map({k: shown(v, self) for k, v in values.items()})


def known_languages() -> list[str]:
    """Languages that there is a file for."""
    return sorted(path.stem for path in FOLDER.glob("*.yaml"))


def load_words(language: str, clinic_override: Path | None = None) -> Words:
    """Read and check every sentence.

    Parameters
    ----------
    language : str
        Two letters; one of `known_languages()`.
    clinic_override : Path | None
        The clinic's own `words.yaml`, if it has one.

    Raises
    ------
    AftersitError
        There is no file for this language.
    InvalidFileError
        A sentence is missing or unknown, or a placeholder does not fit.
    """
    path = FOLDER / f"{language}.yaml"
    if language not in known_languages():
        raise AftersitError(
            f"no words for the language '{language}'; there are: {', '.join(known_languages())}"
        )
    shipped = load_plain_yaml(path)
    words = Words.checked(shipped, f"templates/words/{path.name}")
    if clinic_override is None:
        return words
    own = load_plain_yaml(clinic_override)
    return Words.checked(_overlaid(shipped, own, clinic_override.name), clinic_override.name)


def clinic_words(clinic: Clinic, language: str) -> Words:
    """The words of a clinic: the language's, with its own `words.yaml` over them."""
    own = clinic.root / "words.yaml"
    return load_words(language, own if own.is_file() else None)


def _overlaid(shipped: dict, own: dict, where: str, place: str = "") -> dict:
    """The shipped sentences with the clinic's own in their places."""
    result = dict(shipped)
    for key, value in own.items():
        here = f"{place}{key}"
        if here == "language":
            raise InvalidFileError(where, [f"{here}: set the language in clinic.yaml instead"])
        before = shipped.get(key)
        if isinstance(before, dict) and not isinstance(value, dict):
            inner = ", ".join(before)
            raise InvalidFileError(where, [f"{here}: holds no sentence but the keys {inner}"])
        both = isinstance(before, dict)
        result[key] = _overlaid(before, value, where, f"{here}.") if both else value
    return result
