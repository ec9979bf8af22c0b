"""The client's handout: one sheet of paper in plain words."""

import datetime as dt
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from aftersit.clinic import ClinicSettings, SittingId
from aftersit.files import write_atomically
from aftersit.pages.format import day
from aftersit.pages.inputs import SittingInputs
from aftersit.pages.pdf import one_page_pdf
from aftersit.pages.phrases import Phrase, felt_unpleasant, story
from aftersit.pages.picture import picture
from aftersit.pages.review import Reviewed
from aftersit.pages.style import TEMPLATES
from aftersit.pages.template import render
from aftersit.pages.words import Words
from aftersit.record import Record
from aftersit.sheet import Kind, Sheet

# Size of the text in points, and characters of the practitioner's message, tried in
# turn until all stands on one page. Nothing but the message is ever shortened.
FITS = ((11.0, 900), (10.5, 900), (10.0, 900), (9.5, 900), (9.5, 500), (9.0, 250), (8.5, 100))


@dataclass(frozen=True)
class HandoutInputs:
    """All that a handout is made from; `records` holds one for each protocol."""

    sitting: SittingId
    date: dt.date
    records: tuple[Record, ...]
    sheet: Sheet
    clinic: ClinicSettings
    words: Words
    review: Reviewed | None = None

    @classmethod
    def of(cls, inputs: SittingInputs, sitting: SittingId, words: Words) -> Self:
        """A handout's part of what all pages of a sitting are made from."""
        return cls(
            sitting=sitting,
            date=inputs.date,
            records=tuple(r.record for r in inputs.replays),
            sheet=inputs.sheet,
            clinic=inputs.clinic,
            words=words,
            review=inputs.review,
        )


def write_handout(inputs: HandoutInputs, target: Path) -> None:
    """Write `handout.pdf`: one page, the same bytes for the same inputs."""
    pages = (handout_html(inputs, size_pt, most) for size_pt, most in _fits(inputs))
    write_atomically(target, one_page_pdf(pages, TEMPLATES))


def _fits(inputs: HandoutInputs) -> Iterator[tuple[float, int]]:
    """Sizes to try; a shorter message is no help where there is none."""
    for size_pt, most in FITS:
        if inputs.sheet.message or most == FITS[0][1] or size_pt != 9.5:
            yield size_pt, most


def handout_html(inputs: HandoutInputs, size_pt: float, most: int) -> str:
    """The page as HTML for print.

    Parameters
    ----------
    inputs : HandoutInputs
        What it is made from.
    size_pt : float
        Size of the text.
    most : int
        Characters of the practitioner's message that are shown at most.
    """
    words, message = inputs.words, inputs.sheet.message or ""
    shown, cut = shortened(message, most)
    told = story(inputs.records, felt_unpleasant(inputs.sheet))
    drawn = picture(inputs.records, _practice(inputs.sheet))
    return render(
        "handout.html",
        "print",
        language=words.language,
        title=_title(inputs),
        footer=_title(inputs),
        words=words,
        text=words.handout,
        say=lambda phrase: words.say(phrase.key, **phrase.values),
        story=told,
        picture=drawn,
        alt=" ".join(_said(words, drawn.alt)),
        message=shown,
        message_cut=cut,
        clinic=inputs.clinic,
        sitting=inputs.sitting,
        date=day(inputs.date, words.language),
        review=_review(inputs),
        size_pt=size_pt,
    )


def _said(words: Words, phrases: tuple[Phrase, ...]) -> list[str]:
    return [words.say(p.key, **p.values) for p in phrases]


def _title(inputs: HandoutInputs) -> str:
    return inputs.words.say(
        "handout.document",
        client=inputs.sitting.client,
        sitting=inputs.sitting.label,
        date=day(inputs.date, inputs.words.language),
    )


def _review(inputs: HandoutInputs) -> list[str]:
    """Lines of the stamp: a sentence each, where nobody reviewed the page."""
    if inputs.review is None:
        return re.split(r"(?<=\.) ", inputs.words.handout.not_reviewed)
    date = day(inputs.review.date, inputs.words.language)
    return [inputs.words.say("handout.reviewed", reviewer=inputs.review.reviewer, date=date)]


def _practice(sheet: Sheet) -> list[tuple[float, float]]:
    """Practice as the sheet gives it; empty when annotations gave the blocks."""
    if sheet.blocks == "from-annotations":
        return []
    return [(b.start, b.end) for b in sheet.blocks if b.kind == Kind.PRACTICE]


def shortened(message: str, most: int) -> tuple[str, bool]:
    """A message on one line, cut at the end of a sentence or word.

    Returns
    -------
    text : str
        At most `most` characters.
    cut : bool
        Whether something was left out.
    """
    text = re.sub(r"\s+", " ", message).strip()
    if len(text) <= most:
        return text, False
    head = text[: most - 1]
    sentence = max(head.rfind(end + " ") for end in ".!?")
    if sentence > most // 2:
        return head[: sentence + 1], True
    word = head.rfind(" ")
    head = head[:word] if word > most // 2 else _whole_signs(head)
    return f"{head}…", True


def _whole_signs(text: str) -> str:
    """Without a joiner at the end that waits for its other half."""
    while text and (unicodedata.category(text[-1]) in ("Cf", "Mn")):
        text = text[:-1]
    return text
