"""Put a whole folder in place at once, also where another one lies."""

import ctypes
import os
from pathlib import Path

from aftersit.errors import AftersitError

_AT_FDCWD, _RENAME_EXCHANGE = -100, 2
"""`renameat2(2)`."""


def put_in_place(made: Path, target: Path) -> None:
    """Rename a folder; where the target exists, the two change places.

    Either nothing has happened afterwards or all: a crash can't leave the target half written
    or missing.

    Raises
    ------
    AftersitError
        The file system can't exchange folders.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    _onto_disk(made)
    if not target.exists():
        os.rename(made, target)
        return
    libc = ctypes.CDLL(None, use_errno=True)
    paths = [os.fsencode(path) for path in (made, target)]
    if libc.renameat2(_AT_FDCWD, paths[0], _AT_FDCWD, paths[1], _RENAME_EXCHANGE):
        raise AftersitError(
            f"{target.name} can't be replaced on this disk "
            f"({os.strerror(ctypes.get_errno())}); move it away and export without --update"
        )


def _onto_disk(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        ctypes.CDLL(None).syncfs(descriptor)
    finally:
        os.close(descriptor)
