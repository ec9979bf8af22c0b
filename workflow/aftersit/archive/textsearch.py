"""Look for secrets in text, word by word."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator

from aftersit.archive.datetexts import dates_of, times_of
from aftersit.archive.folding import TOKEN, fold, vocabulary
from aftersit.archive.numbertexts import ends_of_numbers
from aftersit.archive.secrets import Secrets

_BETWEEN = r"(?:[^\w\t]|_){1,4}"
_NUMBER = re.compile(r"[-+]?\d{0,6}(?:\.\d+)?(?:e[-+]?\d+)?")
"""Plain numbers that tell nothing: those of seven digits may be serial numbers or codes."""
_CHECKSUM = re.compile(r"[0-9a-f]{32,}")
_DIGITS = set("0123456789")
_APART = "\n\t\t\t\t\n"
"""More than may stand between the words of what is looked for."""
_SIZE = re.compile(r'"contentsize": "\d+"|payload-oxum: \d+\.\d+')
"""Sizes of files in bytes, as the crate and the bag tell them: no numbers of a person."""
IN_A_NAME = "in the name of a protocol, condition or union"


class TextSearch:
    """Made once for a bag; see `kinds`."""

    def __init__(self, secrets: Secrets):
        own = vocabulary() | secrets.printed
        self._words = dict(secrets.words)
        weak = {c for c in secrets.codes if _is_weak(c, own)}
        for code, kind in secrets.codes.items():
            if code not in weak:
                self._words.setdefault(fold(code), kind)
        self._own = own | frozenset(map(fold, secrets.ids))
        self._names = secrets.allowed - own
        self._inside = {
            "a client's code": _alternation(c for c in secrets.codes if _may_stand_inside(c)),
            "a name": _alternation(secrets.names),
        }
        self._numbers = secrets.numbers
        self._weak = _weak_pattern(weak)
        self._phrases = _by_first_word(secrets.phrases)
        self._dates, self._times = secrets.dates, secrets.times
        self._published = secrets.published
        self._ids = _alternation(map(fold, secrets.ids))

    def kinds(self, text: str, tells_day: bool = False) -> Iterator[str]:
        """What of the secrets stands in a text; `tells_day`: the bag's own day may."""
        folded = self._without_own(fold(_shortened(text)), tells_day)
        words = _words(folded)
        for word in words & self._words.keys():
            yield self._words[word] + self._why(word)
        yield from self._inside_words(words)
        for first in words & self._phrases.keys():
            yield from (kind for pattern, kind in self._phrases[first] if pattern.search(folded))
        if self._weak and self._weak.search(folded):
            yield "a client's code"
        yield from self._days(folded)
        for number in set(ends_of_numbers(folded)) & self._numbers.keys():
            yield self._numbers[number]

    def _without_own(self, folded: str, tells_day: bool) -> str:
        """The text without this partner's research ids, sizes, and the bag's own day."""
        folded = self._ids.sub(" ", folded) if self._ids else folded
        folded = _SIZE.sub(" ", folded) if tells_day else folded
        return folded.replace(self._published, " ") if tells_day and self._published else folded

    def _inside_words(self, words: set[str]) -> Iterator[str]:
        """Codes and names within longer words, as in `k07b`; the project's own are passed over."""
        others = words - self._own - self._words.keys()
        for kind, inside in self._inside.items():
            for word in others if inside else ():
                if not _CHECKSUM.fullmatch(word) and inside.search(word):
                    yield f"{kind} inside a word" + self._why(word)

    def _why(self, word: str) -> str:
        return f", {IN_A_NAME}" if word in self._names else ""

    def _days(self, folded: str) -> Iterator[str]:
        if not self._dates.isdisjoint(dates_of(folded)):
            yield "an original date"
        if ":" in folded and not self._times.isdisjoint(times_of(folded)):
            yield "an original time"


def _shortened(text: str) -> str:
    """Each cell of a table and each line of JSON once, without those that are plain numbers.

    Nothing that is looked for reaches over a cell of a table, or over a line of the project's
    JSON; most of a bag's text are numbers.
    """
    if "\t" in text:
        parts = set(text.replace("\t", "\n").split("\n"))
    elif text.startswith(("{\n", "[\n")):
        parts = {line.strip(" ,") for line in text.split("\n")}
    else:
        return text
    return _APART.join(sorted(part for part in parts if not _NUMBER.fullmatch(part)))


def _words(folded: str) -> set[str]:
    """Distinct words; cells that are plain numbers are no words."""
    cells = {cell for cell in set(folded.split()) if not _NUMBER.fullmatch(cell)}
    return set(TOKEN.findall(" ".join(cells)))


def _is_weak(code: str, own: frozenset[str]) -> bool:
    """A code that is a common word or number; it is looked for where codes stand only."""
    return code in own or len(code) < 3 or (code.isdigit() and len(code) < 7)


def _may_stand_inside(code: str) -> bool:
    return len(code) >= 3 and not code.isdigit() and not _DIGITS.isdisjoint(code)


def _alternation(texts: Iterable[str]) -> re.Pattern | None:
    found = sorted(set(texts), key=lambda text: (-len(text), text))
    return re.compile("|".join(map(re.escape, found))) if found else None


def _weak_pattern(codes: Iterable[str]) -> re.Pattern | None:
    found = _alternation(codes)
    if found is None:
        return None
    code = f"(?:{found.pattern})"
    places = (
        rf"\b(?:sub|client|patient|subject|code)[\W_]{{1,4}}{code}(?![^\W_])",
        rf"(?<![^\W_]){code}/\d{{2,3}}(?!\d)",
        rf"(?<![^\W_]){code}[_-]ses[_-]",
    )
    return re.compile("|".join(places))


def _by_first_word(
    phrases: dict[tuple[str, ...], str],
) -> dict[str, list[tuple[re.Pattern, str]]]:
    by_kind: dict[tuple[str, str], list[str]] = defaultdict(list)
    for words, kind in phrases.items():
        by_kind[words[0], kind].append(_BETWEEN.join(map(re.escape, words)))
    found: dict[str, list[tuple[re.Pattern, str]]] = defaultdict(list)
    for (first, kind), patterns in by_kind.items():
        joined = rf"(?<![^\W_])(?:{'|'.join(sorted(patterns))})(?![^\W_])"
        found[first].append((re.compile(joined), kind))
    return found
