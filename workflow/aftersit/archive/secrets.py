"""What must not leave the clinic, as the scan looks for it."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from aftersit.archive.datetexts import dates_of
from aftersit.archive.folding import fold, own_rows, rows, spellings, tokens, vocabulary
from aftersit.archive.ids import EARLIEST, LATEST
from aftersit.archive.numbertexts import ends_of_numbers

SHINGLE, COMMON_SHINGLE = 3, 6
"""So many words in a row, as in a note, are no accident: with one among them that is not common
here, and where all are."""
NOTE_WORD, NAME_WORD = 5, 3
"""Letters of a word that is looked for by itself: of notes; of names, headers, file names."""
_INSIDE = 5
"""Letters of a name that is looked for within longer words."""
_LONGEST_NAME = 40
_IN_BYTES = 4
"""Shortest word that is looked for in bytes that are no text, if it has room (see `scan`)."""


@dataclass
class Secrets:
    """Words, phrases, codes, dates and times; all folded but for `raw`.

    Attributes
    ----------
    allowed : frozenset of str
        Words that the clinic itself had printed in the bag: names of protocols, conditions
        and unions, and the partner's texts. They are no alarm as words of notes; a client's
        code in them is.
    printed : frozenset of str
        Those of them from the partner's texts, which may even be names: authors are.
    ids : frozenset of str
        This partner's research ids.
    published : str
        The day that the bag gives as its own, if it does; see `scan`.
    words, phrases, codes : dict
        What is looked for -> what it is.
    names : dict
        Words that are looked for within longer words, too.
    numbers : dict
        Ends of long numbers (`numbertexts.ends_of_numbers`).
    dates, times : set
    raw : set of str
        As it was written, for bytes that are no text.
    """

    allowed: frozenset[str] = frozenset()
    printed: frozenset[str] = frozenset()
    ids: frozenset[str] = frozenset()
    published: str = ""
    words: dict[str, str] = field(default_factory=dict)
    phrases: dict[tuple[str, ...], str] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    dates: set[dt.date] = field(default_factory=set)
    times: set[dt.time] = field(default_factory=set)
    raw: set[str] = field(default_factory=set)

    def add_code(self, code: str, kind: str) -> None:
        """A client's code, or another id."""
        self.codes.setdefault(code.casefold(), kind)
        if code.casefold() not in vocabulary():
            self.raw.add(code)

    def add_date(self, date: dt.date) -> None:
        self.dates.add(date)

    def add_start(self, start: dt.datetime, *others: dt.datetime) -> None:
        """When a recording began; seconds since 1970 are those of all that are given."""
        self.dates.add(start.date())
        self.times.add(start.time().replace(microsecond=0, tzinfo=None))
        for one in (start.replace(tzinfo=dt.UTC), *others):
            self.words.setdefault(str(int(one.timestamp())), "an original time")

    def add_name(self, text: str, kind: str) -> None:
        """What somebody or the clinic is called: each of its words tells, and all together."""
        known = vocabulary() | self.printed
        self._add(text, kind, NAME_WORD, known, common_row=1)
        self._add_inside(text, kind, known)
        words = re.findall(r"[^\W_]+", text)
        if len(words) > 1 and len(text) <= _LONGEST_NAME and not known.issuperset(tokens(text)):
            self.raw.update(sign.join(words) for sign in " _^")

    def add_label(self, text: str, kind: str) -> None:
        """A file's name, an annotation, a field of a header: words that are not common here.

        Uploads and annotations are often called after a protocol, whose name travels anyway.
        """
        known = vocabulary() | self.allowed
        self._add(text, kind, NAME_WORD, known, common_row=None)
        self._add_inside(text, kind, known)

    def add_note(self, text: str, kind: str) -> None:
        """Free text: long words that are not common here, and words in a row."""
        self._add(text, kind, NOTE_WORD, vocabulary() | self.allowed, COMMON_SHINGLE)

    def _add(
        self, text: str, kind: str, at_least: int, known: frozenset[str], common_row: int | None
    ) -> None:
        """`common_row`: so many words of common ones in a row tell, too; None: they never do."""
        self.dates.update(_dates(text))
        self.numbers.update(dict.fromkeys(ends_of_numbers(fold(text)), kind))
        for spelt in spellings(text):
            found = tokens(spelt)
            for word in found:
                if _tells(word, at_least) and word not in known:
                    self.words.setdefault(word, kind)
            for row in _rows(found, known, common_row):
                self._add_row(row, kind)
        told = [w for w in re.findall(r"[^\W_]+", text) if len(w) >= _IN_BYTES]
        new = [w for w in told if not known.issuperset(tokens(w))]
        self.raw.update(new, map(_with_umlauts, new))

    def _add_inside(self, text: str, kind: str, known: frozenset[str]) -> None:
        for word in {word for spelt in spellings(text) for word in tokens(spelt)} - known:
            if len(word) >= _INSIDE and not word.isdigit():
                self.names.setdefault(word, kind)

    def _add_row(self, row: tuple[str, ...], kind: str) -> None:
        small = all(map(_is_small, row))
        if not small and row not in own_rows(len(row)) and not self.allowed.issuperset(row):
            self.phrases.setdefault(row, kind)


def _rows(
    words: list[str], known: frozenset[str], common_row: int | None
) -> Iterator[tuple[str, ...]]:
    """Words in a row with one among them that is not known, and long rows of those that are."""
    short = min(len(words), SHINGLE)
    if common_row is not None and common_row <= short:
        yield from rows(words, short) if short > 1 else ()
        return
    for row in rows(words, short) if short > 1 else ():
        if not all(word in known or _is_small(word) for word in row):
            yield row
    yield from rows(words, common_row) if common_row is not None else ()


def _with_umlauts(word: str) -> str:
    """The word as it may be written where a header could not."""
    for two, one in (("ae", "ä"), ("oe", "ö"), ("ue", "ü")):
        word = word.replace(two, one)
    return word


def _is_small(word: str) -> bool:
    return word.isdigit() or len(word) == 1


def _dates(text: str) -> Iterator[dt.date]:
    """Dates of a text; two digits of a year do not mean the years that shifted dates lie in."""
    for date in dates_of(text):
        if not EARLIEST <= date <= LATEST or str(date.year) in text:
            yield date


def _tells(word: str, at_least: int) -> bool:
    """Numbers tell little, unless they are long, as serial numbers are."""
    return len(word) >= (7 if word.isdigit() else at_least)
