"""What lies in a folder, and its checksums; links are never followed."""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from aftersit.files import sha256
from aftersit.names import code_of, shown

Contents = dict[str, str]
"""Path from the folder, as text on one line (a dot for a file by itself) -> SHA-256."""

UNREADABLE = "unreadable"
"""Stands for the checksum of a file that this user may not read."""


def entries(place: Path) -> Iterator[Path]:
    """Everything in and under a folder, the folder (or file) itself first."""
    yield place
    if place.is_symlink() or not place.is_dir():
        return
    for folder, folders, files in os.walk(place):
        yield from (Path(folder, name) for name in sorted([*folders, *files]))


def contents(place: Path) -> Contents:
    """Checksums of the bytes of each file, and of the target of each link.

    Folders, devices, pipes and sockets hold no bytes and are left out.
    """
    held = {shown(str(p.relative_to(place))): p for p in entries(place) if _holds_bytes(p)}
    return {name: _sum(held[name]) for name in sorted(held)}


def contents_of_file(data: bytes) -> Contents:
    """What `contents` says of a file that holds these bytes."""
    return {".": hashlib.sha256(data).hexdigest()}


def _holds_bytes(path: Path) -> bool:
    return path.is_symlink() or path.is_file()


def _sum(path: Path) -> str:
    if path.is_symlink():
        return "link:" + hashlib.sha256(os.fsencode(os.readlink(path))).hexdigest()
    try:
        return sha256([path])
    except PermissionError:
        return UNREADABLE


def coded(held: Contents) -> Contents:
    """The same with a code for each name: names of files may be anything, even a person's."""
    return {code_of(name): found for name, found in held.items()}
