"""Look for secrets in bytes that are no text, such as samples and arrays.

Every position of the data is compared with all secrets at once: two tables say whether its
first four bytes, and the four after the second, are those of a secret; what passes both is
compared in full.
"""

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from aftersit.archive.datetexts import written
from aftersit.archive.secrets import Secrets

SHORTEST_BYTES = 7
"""Shorter texts come about by chance: of 2 GB of random bytes, one position in 2^48 / 2^31
begins with a given six; with thousands of secrets that is too often."""
SHORTEST_WIDE = 4
"""Letters of a text in UTF-16 or UTF-32, whose zeros make chance hits rare."""
_BITS = 20
_STEP = np.uint32(2654435761)
"""Knuth's multiplicative hash (The Art of Computer Programming, vol. 3, section 6.4)."""


class ByteSearch:
    """Made once for a bag; see `kinds`."""

    def __init__(self, secrets: Secrets):
        self._needles = dict(_needles(secrets))
        self._by_start: dict[bytes, list[bytes]] = defaultdict(list)
        self._first, self._second = np.zeros((2, 1 << _BITS), dtype=bool)
        for needle in self._needles:
            self._by_start[needle[:4]].append(needle)
            self._first[_hashed(_window(needle, 0))] = True
            self._second[_hashed(_window(needle, 2))] = True

    def kinds(self, data: bytes) -> Iterator[str]:
        """What of the secrets stands in some bytes."""
        for offset in range(4):
            for at in self._candidates(data, offset):
                for needle in self._by_start.get(data[at : at + 4], ()):
                    if data.startswith(needle, at) and _is_word(data, needle, at):
                        yield self._needles[needle]

    def _candidates(self, data: bytes, offset: int) -> list[int]:
        count = (len(data) - offset - 2) // 4
        if count < 1 or not self._needles:
            return []
        one = np.frombuffer(data, "<u4", (len(data) - offset) // 4, offset)[:count]
        two = np.frombuffer(data, "<u4", count, offset + 2)
        likely = np.flatnonzero(self._first[_hashed(one)])
        likely = likely[self._second[_hashed(two[likely])]]
        return (offset + 4 * likely).tolist()


def _is_word(data: bytes, needle: bytes, at: int) -> bool:
    """Whether a text in UTF-16 or UTF-32 is no part of a longer word, as of a region's name.

    In one byte a letter, what stands beside it may be a sample that looks like a letter.
    """
    if b"\0" not in needle:
        return True
    encoding, width = _wide(needle)
    before, after = data[max(at - width, 0) : at], data[at + len(needle) :][:width]
    return not any(_is_letter(one, encoding) for one in (before, after))


def _wide(needle: bytes) -> tuple[str, int]:
    if needle[1:4] == b"\0\0\0":
        return "utf-32-le", 4
    if needle[:3] == b"\0\0\0":
        return "utf-32-be", 4
    return ("utf-16-be", 2) if needle[:1] == b"\0" else ("utf-16-le", 2)


def _is_letter(one: bytes, encoding: str) -> bool:
    text = one.decode(encoding, "replace")
    return text.isascii() and text.isalnum()


def _window(needle: bytes, start: int) -> np.ndarray:
    return np.frombuffer(needle, "<u4", 1, start)


def _hashed(words: np.ndarray) -> np.ndarray:
    return (words * _STEP) >> np.uint32(32 - _BITS)


def _needles(secrets: Secrets) -> Iterator[tuple[bytes, str]]:
    texts = {*secrets.raw, *secrets.words}
    for date in secrets.dates:
        texts.update(written(date))
    for text in sorted(texts):
        for spelt in {text, text.lower(), text.upper(), text.title()}:
            for encoding in ("utf-8", "latin-1"):
                data = spelt.encode(encoding, "ignore")
                if len(data) >= SHORTEST_BYTES:
                    yield data, "a word or date in bytes"
            for encoding in ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"):
                if len(spelt) >= SHORTEST_WIDE:
                    yield spelt.encode(encoding), "a word or date in bytes"
