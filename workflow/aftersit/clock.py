"""Times of day inside a recording: `mm:ss` text and seconds."""

import re

_PATTERN = re.compile(r"^(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d(?:\.\d+)?)$")


def seconds(text: str | int | float) -> float:
    """Seconds from `mm:ss`, `h:mm:ss` or a number of seconds.

    Raises
    ------
    ValueError
        Anything else.

    Examples
    --------
    >>> seconds("12:30"), seconds("1:02:03.5"), seconds(90)
    (750.0, 3723.5, 90.0)
    """
    if isinstance(text, int | float) and not isinstance(text, bool):
        value = float(text)
    elif isinstance(text, str) and (match := _PATTERN.match(text.strip())):
        hours, minutes, rest = match.groups()
        value = int(hours or 0) * 3600 + int(minutes) * 60 + float(rest)
    else:
        raise ValueError("a time is written mm:ss, h:mm:ss or as a number of seconds")
    if not 0 <= value < 86_400:
        raise ValueError("a time lies between 0 seconds and 24 hours")
    return value


def clock(value_s: float) -> str:
    """`mm:ss` (or `h:mm:ss`) of a number of seconds, rounded down."""
    minutes, rest = divmod(int(value_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes:02d}:{rest:02d}"
