"""Notch filters that a BrainVision header states; mne reads the other filters."""

import re
from pathlib import Path

from aftersit.intake.upload_files import header_text


def read_notches(header: Path, names: list[str]) -> dict[str, tuple[float, ...]]:
    """Notch frequency in Hz by channel name, from the amplifier set-up of a `.vhdr`.

    The table has the columns number, name, phys. channel, resolution and unit, low
    cut-off, high cut-off, notch; only a last column that is a number counts.
    """
    _, found, table = header_text(header).partition("[Comment]")
    if not found or not re.search(r"Notch \[Hz\]", table):
        return {}
    notches = {}
    for number, name in enumerate(names, 1):
        row = re.search(rf"^\s*{number}\s+{re.escape(name)}\s+(.+?)\s*$", table, re.MULTILINE)
        value = _last_number(row[1]) if row else None
        if value:
            notches[name] = (value,)
    return notches


def _last_number(row: str) -> float | None:
    """The notch: the third of three last columns, each a number, `Off` or `DC`."""
    match = re.search(r"(?:[\d.,]+|DC|Off)\s+(?:[\d.,]+|Off)\s+([\d.,]+)$", row)
    return float(match[1].replace(",", ".")) if match else None
