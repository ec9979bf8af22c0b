"""Types of arguments, each of whose errors says what to write."""

import argparse
import datetime as dt
import re


def words(text: str) -> tuple[str, ...]:
    """Words with commas or blanks between them."""
    return tuple(word for word in text.replace(" ", ",").split(",") if word)


def codes(text: str) -> tuple[str, ...]:
    """Client codes with commas between them."""
    if ";" in text:
        raise argparse.ArgumentTypeError(f"'{text}': write commas between the codes, as K07,M12")
    return words(text)


def numbers(text: str) -> tuple[int, ...]:
    """Whole numbers with commas or blanks between them."""
    return tuple(whole(word) for word in words(text))


def whole(text: str) -> int:
    """A whole number."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number") from None


def count(text: str) -> int:
    """A whole number, 0 or more."""
    if not text.isdecimal():
        raise argparse.ArgumentTypeError("a whole number, 0 or more")
    return int(text)


def version(text: str) -> int:
    """The version of a protocol: 2, or v2 as its file is called."""
    digits = text.removeprefix("v")
    if not digits.isdecimal() or int(digits) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is no version; write its number, as 2")
    return int(digits)


def label(text: str) -> str:
    """A settings version, as s1, or s1.2 with the version of the algorithms."""
    if not re.fullmatch(r"[a-z0-9]{1,12}(\.\d+)?", text):
        raise argparse.ArgumentTypeError(f"'{text}' is no settings version; write it as s1")
    return text


def day(text: str) -> dt.date:
    """A day, as 2026-03-14."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no day; write YYYY-MM-DD") from None
