"""Text as the scan compares it: without case, accents and punctuation."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from aftersit.archive.dictionaries import TEMPLATES
from aftersit.bids.sidecars import task_description
from aftersit.replay.schemas import FOLDER as SCHEMAS
from aftersit.sheet import Practice

TOKEN = re.compile(r"[^\W_]+")
_SHARED = Path(__file__).parents[3] / "shared"
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "æ": "ae", "œ": "oe", "ı": "i", "þ": "th"})
_SPELT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})


def fold(text: str) -> str:
    """Lower case, accents taken off.

    Examples
    --------
    >>> fold("Zoë MÜLLER-Ångström")
    'zoe muller-angstrom'
    """
    if text.isascii():
        return text.lower()
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in parts if not _is_silent(c)).translate(_PLAIN)


def _is_silent(letter: str) -> bool:
    """Accents, and signs that nobody sees, such as soft hyphens."""
    return bool(unicodedata.combining(letter)) or unicodedata.category(letter) == "Cf"


def spellings(text: str) -> set[str]:
    """The folded text, with umlauts written as two letters, and two letters taken for one."""
    composed = unicodedata.normalize("NFC", text.casefold())
    return {fold(text), fold(composed.translate(_SPELT)), re.sub("([aou])e", r"\1", fold(text))}


def tokens(text: str) -> list[str]:
    """Words and numbers of a text, folded, in order."""
    return TOKEN.findall(fold(text))


@cache
def _own_texts() -> tuple[tuple[str, ...], ...]:
    """The project's texts, dictionaries, schemas and reference tables, as words.

    Read from the sources, not from a bag: what gets into a bag by mistake is not among them.
    """
    files = [*TEMPLATES.iterdir(), *SCHEMAS.iterdir(), *_SHARED.glob("*.yaml")]
    texts = [path.read_text() for path in sorted(files)]
    # JSON has `\\n` between words, which is read in both ways, as the scan does.
    decoded = [text.replace("\\n", " ") for text in texts if "\\n" in text]
    tasks = [task_description(practice) for practice in Practice]
    return tuple(tuple(tokens(text)) for text in [*texts, *decoded, *tasks])


@cache
def vocabulary() -> frozenset[str]:
    """The project's own words, and the numbered ones that files are full of."""
    numbered = (f"{letters}{n}" for letters in ("ch", "v", "s", "u", "misc") for n in range(1, 100))
    return frozenset(word for text in _own_texts() for word in text) | frozenset(numbered)


@cache
def own_rows(length: int) -> frozenset[tuple[str, ...]]:
    """So many words in a row, as they stand in the project's own texts."""
    return frozenset(row for text in _own_texts() for row in rows(text, length))


def rows(words: Sequence[str], length: int) -> Iterator[tuple[str, ...]]:
    """All runs of so many words."""
    for start in range(len(words) - length + 1):
        yield tuple(words[start : start + length])
