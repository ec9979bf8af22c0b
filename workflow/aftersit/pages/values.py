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

# From here on whole minutes are told; below, seconds too. No source: what people say.
WHOLE_MINUTES_S = 600


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
    """Seconds, minutes, or both; never 'no time', since what is told did happen."""
    if seconds >= WHOLE_MINUTES_S:
        return _counted(round(seconds / 60), words.time.minute, words.time.minutes)
    minutes, rest = divmod(max(1, round(seconds)), 60)
    told_minutes = _counted(minutes, words.time.minute, words.time.minutes)
    told_seconds = _counted(rest, words.time.second, words.time.seconds)
    if minutes and rest:
        return words.time.both.format(minutes=told_minutes, seconds=told_seconds)
    return told_minutes if minutes else told_seconds


def _counted(n: int, one: str, many: str) -> str:
    return one if n == 1 else many.format(n=n)
