"""Keep a clinic's folders to their owner."""

import contextlib
import stat
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.contents import entries

_OTHERS = stat.S_IRWXO
_GROUP_AND_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def make_private(place: Path) -> None:
    """The owner, and nobody else, may read and change what lies here; links are not followed.

    What belongs to another user is left as it is: the folder above it is private.
    """
    for path in entries(place):
        if not path.is_symlink():
            with contextlib.suppress(PermissionError):
                path.chmod(stat.S_IRWXU if path.is_dir() else stat.S_IRUSR | stat.S_IWUSR)


def make_read_only(path: Path) -> None:
    """The owner may read a file, and nobody may change it."""
    if stat.S_IMODE(path.stat().st_mode) != stat.S_IRUSR:
        path.chmod(stat.S_IRUSR)


def keep_private(clinic: Clinic) -> None:
    """Close the clinic to all others, and everything but the inbox to the group.

    The inbox stays open to the clinic's group, which may be who copies uploads.
    """
    _take(clinic.root, _OTHERS)
    for folder in clinic.root.iterdir():
        if folder.is_dir() and not folder.is_symlink():
            _take(folder, _OTHERS if folder == clinic.inbox else _GROUP_AND_OTHERS)
    for roster in (clinic.root / "roster.csv", *clinic.root.glob("partners/*.csv")):
        if roster.is_file():
            _take(roster, _GROUP_AND_OTHERS)


def _take(path: Path, bits: int) -> None:
    mode = stat.S_IMODE(path.stat().st_mode)
    if mode & bits:
        path.chmod(mode & ~bits)
