"""Values inside sentences: numbers, lengths of time and words, in any language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from aftersit.pages.words import Words


@dataclass(frozen=True)
class Duration:
    """A length of time, in seconds."""

    seconds: float


@dataclass(frozen=True)
class Word:
    """Another entry of the words file, by its key."""

    key: str


Value = str | int | float | Duration | Word

# Below this, seconds are told; from here on, whole minutes. No source: what people say.
SECONDS_BELOW = 90


def shown(value: Value, words: Words) -> str:
    """A value as a reader of this language sees it."""
    if isinstance(value, Word):
        return words.of(value.key)
    if isinstance(value, Duration):
        return _duration(value.seconds, words)
    if isinstance(value, int | float):
        return number(value, words)
    return value


def number(value: float, words: Words) -> str:
    """A number with at most one decimal."""
    from babel.numbers import format_decimal

    return format_decimal(round(value, 1), format="#,##0.#", locale=words.language)


def _duration(seconds: float, words: Words) -> str:
    if seconds < SECONDS_BELOW:
        n = max(1, round(seconds))
        return words.time.second if n == 1 else words.time.seconds.format(n=n)
    n = max(1, round(seconds / 60))
    return words.time.minute if n == 1 else words.time.minutes.format(n=n)
