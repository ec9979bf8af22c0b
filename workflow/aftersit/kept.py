"""What takes long to make and is the same for all clinics, kept beside the installed packages.

Each is named by the checksum of all that it is made from; deleted, or where nothing can be
kept, it is made anew, to the same bytes.
"""

import contextlib
import os
import sys
from collections.abc import Callable
from pathlib import Path

from aftersit.files import write_atomically

KEPT = Path(sys.prefix) / "share" / "aftersit"


def kept(kind: str, name: str, make: Callable[[], bytes]) -> bytes:
    """What is kept under a name; made, and kept if that can be, when it is not there."""
    path = KEPT / kind / name
    with contextlib.suppress(OSError):
        return path.read_bytes()
    made = make()
    with contextlib.suppress(OSError):
        write_atomically(path, made)
        path.chmod(0o644)  # nothing of a clinic is in it, and its nights may be another user's
    return made


def folder_for(kind: str) -> Path | None:
    """A folder for what a library keeps by itself; None where it could not write there."""
    folder = KEPT / kind
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
    return folder if os.access(folder, os.R_OK | os.W_OK | os.X_OK) else None
