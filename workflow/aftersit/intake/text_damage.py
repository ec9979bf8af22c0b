"""Signs that a binary file was handled as text on its way."""

from pathlib import Path

from aftersit.intake.problems import Problem

_LOOK_BYTES = 4_000_000
_LOST = b"\xef\xbf\xbd"
"""What UTF-8 decoders put in place of a byte that they can't read (U+FFFD)."""
_ENOUGH = 50


def text_damage(path: Path, expected_bytes: int) -> Problem | None:
    """Say how a file of the wrong size may have been damaged; None when nothing tells."""
    with path.open("rb") as file:
        data = file.read(_LOOK_BYTES)
    what = _what(data, path.stat().st_size - expected_bytes)
    if what is None:
        return None
    return Problem(
        "text-damage",
        "recording",
        f"its size is wrong, and {what}: it was sent or opened as text on its way",
        "copy the file again from the recorder, as a binary file (by cable or disk, or zipped)",
    )


def _what(data: bytes, too_many: int) -> str | None:
    lines, ends = data.count(b"\n"), data.count(b"\r\n")
    if data.count(_LOST) >= _ENOUGH:
        return "bytes are missing that are no UTF-8"
    if too_many > 0 and lines >= _ENOUGH and ends == lines:
        return "every line feed follows a carriage return"
    if too_many > 0 and _is_utf8(data):
        return "all of it is UTF-8"
    return None


def _is_utf8(data: bytes) -> bool:
    """Whether the bytes are text in UTF-8, the cut at their end aside, and not plain ASCII."""
    try:
        return not data[:-3].decode("utf-8", "strict").isascii()
    except UnicodeDecodeError as error:
        return error.start > len(data) - 8 and not data[: error.start].isascii()
