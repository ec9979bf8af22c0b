"""What must not leave the clinic, as the scan looks for it."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from aftersit.archive.datetexts import dates_of
from aftersit.archive.folding import own_rows, rows, spellings, tokens, vocabulary
from aftersit.archive.ids import EARLIEST, LATEST

SHINGLE = 3
"""So many words in a row, as in a note, are no accident."""
NOTE_WORD, NAME_WORD = 5, 3
"""Letters of a word that is looked for by itself: of notes; of names, headers, file names."""
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

    def add_name(self, text: str, kind: str) -> None:
        """A name, a header field or a file name: each of its words tells."""
        self._add(text, kind, NAME_WORD, vocabulary() | self.printed)

    def add_field(self, text: str, kind: str) -> None:
        """A field that is mostly about signals: as a name, but not words in common alone."""
        known = vocabulary() | self.printed
        if not all(word in known or word.isdigit() for word in tokens(text)):
            self._add(text, kind, NAME_WORD, known, common_rows=False)

    def add_note(self, text: str, kind: str) -> None:
        """Free text: long words that are not common here, and words in a row."""
        self._add(text, kind, NOTE_WORD, vocabulary() | self.allowed)

    def _add(
        self, text: str, kind: str, at_least: int, known: frozenset[str], common_rows: bool = True
    ) -> None:
        self.dates.update(_dates(text))
        for spelt in spellings(text):
            found = tokens(spelt)
            for word in found:
                if _tells(word, at_least) and word not in known:
                    self.words.setdefault(word, kind)
            length = min(len(found), SHINGLE)
            for row in rows(found, length) if length > 1 else ():
                if common_rows or not all(w in known or _is_small(w) for w in row):
                    self._add_row(row, kind)
        told = [w for w in re.findall(r"[^\W_]+", text) if len(w) >= _IN_BYTES]
        new = [w for w in told if not known.issuperset(tokens(w))]
        self.raw.update(new, map(_with_umlauts, new))

    def _add_row(self, row: tuple[str, ...], kind: str) -> None:
        small = all(map(_is_small, row))
        if not small and row not in own_rows(len(row)) and not self.allowed.issuperset(row):
            self.phrases.setdefault(row, kind)


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
