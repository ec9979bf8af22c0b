"""The readings of some bytes as text."""

import base64
import binascii
import html
import re
import urllib.parse

_RUN = re.compile(rb"[\x20-\x7e\t\n\r]{24,}")
"""Printable bytes in a row; shorter runs come about by chance in a signal."""
_BASE64 = re.compile(r"(?<![A-Za-z0-9+/=])[A-Za-z0-9+/]{16,}={0,2}(?![A-Za-z0-9+/=])")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})|\\[nrt]")
_QUOTED = re.compile(r"=[C-F][0-9A-F]=[89AB][0-9A-F]")
"""A letter with an accent in a mail (quoted-printable)."""


def views(data: bytes) -> tuple[bool, list[str]]:
    """Whether the bytes are text, and every way to read them.

    Text is UTF-8, or UTF-16 and UTF-32 with their mark, or latin-1 without control
    characters. Of other bytes the readings are long runs of printable characters.
    """
    text = _decoded(data)
    if text is None:
        found = [run.decode() for run in _RUN.findall(data)]
        return False, ["\n".join(found)] if found else []
    return True, [text, *_unwrapped(text)]


def _decoded(data: bytes) -> str | None:
    for encoding, mark in (
        ("utf-32", b"\xff\xfe\0\0"),
        ("utf-16", b"\xff\xfe"),
        ("utf-16", b"\xfe\xff"),
    ):
        if data.startswith(mark):
            return data.decode(encoding, "replace")
    if b"\0" in data:
        return None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        controls = sum(data.count(bytes([c])) for c in range(32) if c not in (9, 10, 13))
        return data.decode("latin-1") if controls == 0 else None


def _unwrapped(text: str) -> list[str]:
    """The text without the escapes of JSON, HTML, URLs and mails, and what is in base 64."""
    found = []
    if "\\" in text:
        found.append(_ESCAPED.sub(_unescaped, text))
    if "&" in text:
        found.append(html.unescape(text))
    if "%" in text:
        found.append(urllib.parse.unquote(text))
    if _QUOTED.search(text):
        found.append(_from_quoted(text))
    found += [inner for run in _BASE64.findall(text) if (inner := _from_base64(run))]
    return [one for one in found if one != text]


def _unescaped(found: re.Match) -> str:
    return chr(int(found[1], 16)) if found[1] else " "


def _from_quoted(text: str) -> str:
    data = re.sub(rb"=([0-9A-F]{2})", lambda m: bytes([int(m[1], 16)]), text.encode())
    return data.decode("utf-8", "replace")


def _from_base64(run: str) -> str | None:
    if re.fullmatch(r"[0-9a-f]+", run):
        return None  # a checksum
    try:
        data = base64.b64decode(run + "=" * (-len(run) % 4), validate=True)
        for encoding in ("utf-8", "utf-16-le"):
            text = data.decode(encoding)
            if text.isprintable() or "\n" in text:
                return text
    except (binascii.Error, UnicodeDecodeError):
        return None
    return None
