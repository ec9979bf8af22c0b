"""Writing that a crash can't leave half done, and checksums."""

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

_CHUNK = 1 << 20
TEMPORARY = ".writing-"
"""Begins the name of a file that is being written; one left behind means nothing."""


def write_atomically(path: Path, data: bytes | str) -> None:
    """Write a file so that it is either the old one or the whole new one."""
    data = data.encode() if isinstance(data, str) else data
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=TEMPORARY)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise


def as_json(value: object) -> str:
    """Plain data as stable, readable JSON; ValueError for NaN and infinities, which it has not."""
    text = json.dumps(value, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return text + "\n"


def write_json(path: Path, value: object) -> None:
    """Write plain data as stable, readable JSON."""
    write_atomically(path, as_json(value))


def write_if_changed(path: Path, text: str) -> None:
    """Write a text file, and leave its time alone when it already says the same."""
    if not path.is_file() or path.read_bytes() != text.encode():
        write_atomically(path, text)


def sha256(paths: Iterable[Path]) -> str:
    """Checksum over the bytes of files, in the order given."""
    digest = hashlib.sha256()
    for path in paths:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK):
                digest.update(chunk)
    return digest.hexdigest()
