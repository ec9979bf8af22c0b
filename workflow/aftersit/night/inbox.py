"""The inbox: which uploads are whole, and moving them without losing a byte."""

import os
import time
from pathlib import Path

Look = tuple[tuple[str, int, int], ...]


def look(upload: Path) -> Look:
    """Name, size and time of change of everything in an upload."""
    paths = [upload, *sorted(upload.rglob("*"))] if upload.is_dir() else [upload]
    stats = [(p, os.lstat(p)) for p in paths]
    return tuple((str(p.relative_to(upload)), s.st_size, s.st_mtime_ns) for p, s in stats)


def _still_copied(seen: Look) -> bool:
    return any(name.endswith(".part") for name, _, _ in seen)


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
        Both by name. An upload waits when it changed between the looks or
        holds a `.part` file.
    """
    uploads = sorted(p for p in inbox.iterdir() if not p.name.startswith("."))
    if not uploads:
        return [], []
    first = {p: look(p) for p in uploads}
    time.sleep(settle_s)
    ready = [p for p in uploads if not _still_copied(first[p]) and look(p) == first[p]]
    return ready, [p for p in uploads if p not in ready]


def move(source: Path, target: Path) -> None:
    """Move a folder or file by renaming it: it is in one place or the other."""
    target.parent.mkdir(parents=True, exist_ok=True)
    os.rename(source, target)
    for folder in {source.parent, target.parent}:
        descriptor = os.open(folder, os.O_RDONLY)
        os.fsync(descriptor)
        os.close(descriptor)


def unused(path: Path) -> Path:
    """The path itself, or with `.2`, `.3`, ... when that exists."""
    candidate, number = path, 1
    while candidate.exists():
        number += 1
        candidate = path.with_name(f"{path.name}.{number}")
    return candidate
