"""The inbox: which uploads are whole, and taking them out without losing a byte."""

import contextlib
import errno
import os
import shutil
import time
from pathlib import Path

from aftersit.names import code_of
from aftersit.night.contents import contents, entries
from aftersit.night.private import make_private

Look = tuple[tuple[str, int, int, int], ...]

REMOVING = ".removing-"
MOVING = ".moving-"
_UNFINISHED = ".part"
_NAME_BYTES = 255
"""Longest name that Linux file systems take."""


def look(upload: Path) -> Look | None:
    """Name, size and times of change of all in an upload; None when something just vanished."""
    try:
        return tuple((str(p), *_size_and_times(p)) for p in entries(upload))
    except FileNotFoundError:
        return None


def _size_and_times(path: Path) -> tuple[int, int, int]:
    """Of a file in a folder that this user may list and not enter, nothing is known."""
    try:
        found = os.lstat(path)
    except PermissionError:
        return 0, 0, 0
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns


def _still_copied(upload: Path, seen: Look | None) -> bool:
    """Whether a name says so: `.part` at the end; a folder with a dot in front."""
    return (
        seen is None
        or upload.name.startswith(".")
        or any(name.lower().endswith(_UNFINISHED) for name, *_ in seen)
    )


def _is_clutter(path: Path) -> bool:
    """Hidden files, and what a removal was stopped at."""
    hidden = path.name.startswith(".")
    return hidden and (not path.is_dir() or path.name.startswith((REMOVING, MOVING)))


def settled(inbox: Path, settle_s: float) -> tuple[list[Path], list[Path]]:
    """Uploads that are whole, and uploads that are still being copied.

    Parameters
    ----------
    inbox : Path
        The clinic's inbox.
    settle_s : float
        Seconds between two looks.

    Returns
    -------
    ready, waiting : list of Path
        Both by name. An upload waits when its size or a time changed between
        the looks, when it is or holds a `.part` file, or when it is a folder
        whose name begins with a dot.
    """
    uploads = sorted(p for p in inbox.iterdir() if not _is_clutter(p))
    if not uploads:
        return [], []
    first = {p: look(p) for p in uploads}
    time.sleep(settle_s)
    ready = [p for p in uploads if not _still_copied(p, first[p]) and look(p) == first[p]]
    return ready, [p for p in uploads if p not in ready]


def may_take(upload: Path) -> bool:
    """Whether this user may read all of an upload, and move or remove it.

    What is the user's own can be made so; see `make_private`.
    """
    return all(_may_take(path) for path in entries(upload))


def _may_take(path: Path) -> bool:
    if path.is_symlink() or path.lstat().st_uid == os.geteuid():
        return True
    return os.access(path, os.R_OK | os.W_OK | os.X_OK if path.is_dir() else os.R_OK)


def move(source: Path, target: Path) -> None:
    """Move a folder or file by renaming it: it is in one place or the other.

    From another disk it is copied, compared, and put in place whole before the
    source goes.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.rename(source, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _move_from_another_disk(source, target)
    for folder in {source.parent, target.parent}:
        _sync(folder)


def _move_from_another_disk(source: Path, target: Path) -> None:
    copy = target.with_name(f"{MOVING}{code_of(target.name)}")
    remove(copy)
    if source.is_dir() and not source.is_symlink():
        shutil.copytree(source, copy, symlinks=True, ignore=_special)
    else:
        shutil.copy2(source, copy, follow_symlinks=False)
    for path in entries(copy):
        if path.is_file() and not path.is_symlink():
            _sync(path)
    if contents(copy) != contents(source):
        raise OSError(errno.EIO, "the copy differs from the upload; the disk may be failing")
    os.rename(copy, target)
    remove(source)


def _special(folder: str, names: list[str]) -> list[str]:
    """Devices, pipes and sockets: they hold no bytes to keep."""
    paths = {name: Path(folder, name) for name in names}
    return [n for n, p in paths.items() if not (p.is_symlink() or p.is_dir() or p.is_file())]


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    os.fsync(descriptor)
    os.close(descriptor)


def remove(path: Path) -> None:
    """Remove a folder or file, if it is there.

    It gets a hidden name first, so that what a crash leaves is not taken for an upload.

    Raises
    ------
    PermissionError
        Not for this user to remove; it stays as it was.
    """
    if not path.is_symlink() and not path.exists():
        return
    if not may_take(path):
        raise PermissionError(errno.EACCES, "not for this user to remove")
    make_private(path)
    going = path.with_name(f"{REMOVING}{code_of(path.name)}")
    _remove_tree(going)
    os.rename(path, going)
    _remove_tree(going)


def remove_leftovers(folder: Path) -> None:
    """Finish removals and copies that a crash stopped in this folder, as far as one may."""
    for pattern in (f"{REMOVING}*", f"{MOVING}*"):
        for path in folder.glob(pattern):
            with contextlib.suppress(PermissionError):
                _remove_tree(path)


def _remove_tree(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def unused(path: Path) -> Path:
    """The path itself, or with `.2`, `.3`, ... when that exists."""
    candidate, number = path, 1
    while candidate.is_symlink() or candidate.exists():
        number += 1
        ending = f".{number}"
        stem = os.fsdecode(os.fsencode(path.name)[: _NAME_BYTES - len(ending)])
        candidate = path.with_name(f"{stem}{ending}")
    return candidate
