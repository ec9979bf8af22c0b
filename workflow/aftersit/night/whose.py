"""Whose an upload is, by the words of its sheet and the bytes of its recording.

Sheets that were set aside may be in any encoding and break any rule.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.intake.upload_files import SHEET_NAME
from aftersit.names import shown
from aftersit.night.contents import contents, entries
from aftersit.patterns import CODE_PATTERN

_ENCODINGS = ("utf-8", "utf-16-le", "utf-16-be")
_LINE = r"""^\s*client\s*:\s*["']?{code}["']?\s*(#.*)?$"""
_ANY_CODE = CODE_PATTERN.removeprefix("^").removesuffix("$")


def uploads(clinic: Clinic) -> Iterator[Path]:
    """What lies in the inbox and in set-aside, in that order, each by name."""
    for place in (clinic.inbox, clinic.set_aside):
        if place.is_dir():
            yield from sorted(place.iterdir())


def told_place(clinic: Clinic, upload: Path) -> str:
    """Where an upload lies, from the clinic's folder, as it may be printed."""
    return shown(str(upload.relative_to(clinic.root)))


def is_of(upload: Path, client: str, recordings: set[str]) -> bool:
    """Whether an upload's sheet names the client, or its bytes are of a recording of theirs."""
    named = _says(upload, client)
    return named or not recordings.isdisjoint(contents(upload).values())


def says_no_client(upload: Path) -> bool:
    """Whether no sheet of an upload can be read that names a client; hidden files are none."""
    hidden = upload.name.startswith(".") and not upload.is_dir()
    return not hidden and not _says(upload, _ANY_CODE)


def _says(upload: Path, code: str) -> bool:
    line = re.compile(_LINE.format(code=code), re.MULTILINE)
    sheets = (p for p in entries(upload) if p.name == SHEET_NAME)
    return any(line.search(text) for sheet in sheets for text in _texts(sheet))


def _texts(sheet: Path) -> list[str]:
    """A sheet in each encoding that editors use; none when this user may not read it."""
    try:
        data = sheet.read_bytes() if sheet.is_file() else b""
    except PermissionError:
        return []
    texts = (data.decode(encoding, "replace") for encoding in _ENCODINGS)
    return [text.lstrip("\ufeff").replace("\r", "\n") for text in texts]
