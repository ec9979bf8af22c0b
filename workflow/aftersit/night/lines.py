"""A file of JSON lines that grows line by line; a crash can only cost its last, unended line."""

import json
import os
from pathlib import Path

from aftersit.errors import AftersitError


def read_lines(path: Path) -> list[dict]:
    """All whole lines; none when there is no file.

    Raises
    ------
    AftersitError
        A line is damaged.
    """
    if not path.is_file():
        return []
    *whole, _ = path.read_text(encoding="utf-8", errors="replace").split("\n")
    return [_parsed(line, f"{path.name}, line {n}") for n, line in enumerate(whole, 1)]


def _parsed(line: str, where: str) -> dict:
    try:
        return json.loads(line)
    except ValueError:
        raise AftersitError(f".aftersit/{where} is damaged; put it back from a backup") from None


def add_line(path: Path, line: dict) -> None:
    """Add a line, in place of an unended one, and see it onto the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    with os.fdopen(descriptor, "r+b") as file:
        file.seek(file.read().rfind(b"\n") + 1)
        file.truncate()
        file.write(as_line(line).encode())
        file.flush()
        os.fsync(file.fileno())


def as_line(line: dict) -> str:
    """The text of one line."""
    return json.dumps(line, sort_keys=True, ensure_ascii=False) + "\n"
