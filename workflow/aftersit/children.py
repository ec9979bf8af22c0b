"""Processes that end with the one that started them, however that one ends."""

import ctypes
import os
import signal

_PR_SET_PDEATHSIG = 1
"""`prctl(2)`: the signal that the kernel sends when the parent dies."""


def end_with_parent(parent: int) -> None:
    """Let the kernel kill this process when its parent dies.

    Without it a killed night would leave steps behind that go on writing while
    the next night runs.

    Parameters
    ----------
    parent : int
        Process id that the parent has; should it be dead already, this process ends too.
    """
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:
        os.kill(os.getpid(), signal.SIGKILL)
