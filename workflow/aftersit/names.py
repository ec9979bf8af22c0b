"""Names of uploads, which may be any bytes but `/` and NUL, as text."""

import hashlib
import os


def shown(name: str) -> str:
    r"""The name as text on one line.

    Bytes that are no UTF-8, and characters that can't be printed, are written `\xNN`.

    Examples
    --------
    >>> shown("tue-0930\n")
    'tue-0930\\x0a'
    """
    text = os.fsencode(name).decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else _escaped(c) for c in text)


def _escaped(character: str) -> str:
    return "".join(f"\\x{byte:02x}" for byte in character.encode())


def code_of(name: str) -> str:
    """A short code that stands for a name where names may not stand, as in logs."""
    return hashlib.sha256(os.fsencode(name)).hexdigest()[:8]
