"""What takes long to make and is the same for all clinics, kept beside the installed packages."""

import os
import sys
from pathlib import Path

KEPT = Path(sys.prefix) / "share" / "aftersit"


def folder_for(kind: str) -> Path | None:
    """A folder to keep things of one kind in, made when missing; None where none can be had.

    Whoever keeps something must be able to make it anew, to the same bytes, and name it by
    the checksum of all that it is made from.
    """
    folder = KEPT / kind
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.R_OK | os.W_OK | os.X_OK) else None
