"""One night at a time.

The lock is the kernel's and goes with the processes that hold it, so none can be
stale. The workflow's process is handed the lock too: should the night be killed
while the workflow runs on, the next night still waits for it.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from aftersit.errors import AftersitError


class AlreadyRunningError(AftersitError):
    """Another night holds the lock."""


@contextmanager
def night_lock(folder: Path) -> Iterator[int]:
    """Hold the clinic's lock; yields its file descriptor, to be handed to the workflow.

    Raises
    ------
    AlreadyRunningError
        Another process holds it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(folder / "night.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        raise AlreadyRunningError(
            "a night is already running for this clinic; nothing done"
        ) from None
    try:
        yield descriptor
    finally:
        os.close(descriptor)
