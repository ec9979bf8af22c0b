"""The readings of some bytes as text."""

import base64
import binascii
import html
import re
import urllib.parse
from collections.abc import Iterator

_RUN = re.compile(rb"[\x20-\x7e\t\n\r]{24,}")
"""Printable bytes in a row; shorter runs come about by chance in a signal."""
_BASE64 = re.compile(r"(?<![\w+/=-])(?=[\d+/_-]*[A-Za-z])[\w+/-]{12,}={0,2}(?![\w+/=-])", re.ASCII)
_HEXADECIMAL = re.compile(r"(?<![0-9A-Za-z])(?:[0-9A-Fa-f]{2}){8,}(?![0-9A-Za-z])")
_SHORTEST = 12
_NUMBER_LETTERS = frozenset("0123456789.,+-e:/")
_CODE_PAGES = ("latin-1", "cp1250", "cp1251", "cp850", "mac-roman")
"""Of recorders' old systems; a bag's own text is UTF-8."""
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})|\\[nrt]")
_QUOTED = re.compile(r"=[C-F][0-9A-F]=[89AB][0-9A-F]")
"""A letter with an accent in a mail (quoted-printable)."""


def views(data: bytes) -> tuple[bool, list[str]]:
    """Whether the bytes are text, and every way to read them.

    Text is UTF-8, or UTF-16 and UTF-32 with their mark, or an older code page without control
    characters. Of other bytes the readings are long runs of printable characters.
    """
    texts = _decoded(data)
    if not texts:
        found = [run.decode() for run in _RUN.findall(data)]
        return False, ["\n".join(found)] if found else []
    return True, [*texts, *(inner for text in texts for inner in _unwrapped(text))]


def _decoded(data: bytes) -> list[str]:
    for encoding, mark in (
        ("utf-32", b"\xff\xfe\0\0"),
        ("utf-16", b"\xff\xfe"),
        ("utf-16", b"\xfe\xff"),
    ):
        if data.startswith(mark):
            return [data.decode(encoding, "replace")]
    if b"\0" in data:
        return []
    try:
        return [data.decode("utf-8")]
    except UnicodeDecodeError:
        controls = sum(data.count(bytes([c])) for c in range(32) if c not in (9, 10, 13))
        return [data.decode(page, "replace") for page in _CODE_PAGES] if controls == 0 else []


def packed(data: bytes) -> Iterator[bytes]:
    """What bytes in base 64 hold, when the data are text."""
    text = "" if b"\0" in data else data.decode("latin-1")
    for run in sorted(set(_BASE64.findall(_long_words(text)))):
        if (inner := _base64_bytes(run)) is not None:
            yield inner


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
    long = _long_words(text)
    runs = set(_BASE64.findall(long))
    found += [inner for run in sorted(runs) if (inner := _from_base64(run))]
    runs = set(_HEXADECIMAL.findall(long))
    found += [inner for run in sorted(runs) if (inner := _readable(bytes.fromhex(run)))]
    return [one for one in found if one != text]


def _long_words(text: str) -> str:
    """What may be packed, each once: most of a bag's text are the numbers of tables."""
    return "\n".join(w for w in set(text.split()) if len(w) >= _SHORTEST and not _is_number(w))


def _is_number(word: str) -> bool:
    return _NUMBER_LETTERS.issuperset(word)


def _unescaped(found: re.Match) -> str:
    return chr(int(found[1], 16)) if found[1] else " "


def _from_quoted(text: str) -> str:
    data = re.sub(rb"=([0-9A-F]{2})", lambda m: bytes([int(m[1], 16)]), text.encode())
    return data.decode("utf-8", "replace")


def _from_base64(run: str) -> str | None:
    data = _base64_bytes(run)
    return None if data is None else _readable(data)


def _base64_bytes(run: str) -> bytes | None:
    if re.fullmatch(r"[0-9a-f]+", run):
        return None  # a checksum, or hexadecimal
    run = run.rstrip("=").replace("-", "+").replace("_", "/")
    try:
        return base64.b64decode(run + "=" * (-len(run) % 4), validate=True)
    except binascii.Error:
        return None


def _readable(data: bytes) -> str | None:
    for encoding in ("utf-8", "utf-16-le"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if text.isprintable() or "\n" in text:
            return text
    return None
