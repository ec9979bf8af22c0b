"""Processes that end with the one that started them, however that one ends."""

import ctypes
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

from aftersit.trouble import where

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


def forked(name: str, work: Callable[[], None]) -> int:
    """Do some work in a fork that ends with this process; returns its id.

    A fork has at once what this process has imported. It ends with code 0, or that of a
    `SystemExit`, or 1 after any other error, of which it says where it arose.

    Parameters
    ----------
    name : str
        What `ps` calls it; at most 15 characters (`proc(5)`).
    work : callable
    """
    sys.stdout.flush()  # else the fork would say once more what waits there
    sys.stderr.flush()
    me = os.getpid()
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        end_with_parent(me)
        Path("/proc/self/comm").write_text(name)
        code = _code_of(work)
    finally:
        os._exit(code)


def _code_of(work: Callable[[], None]) -> int:
    try:
        work()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except Exception as error:
        print(where(error), file=sys.stderr)
        return 1
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
    return 0


def speak_to(output: int, errors: int) -> None:
    """Make open files this process's output and errors, whatever it had for them."""
    os.dup2(output, 1)
    os.dup2(errors, 2)
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", buffering=1, errors="backslashreplace", closefd=False)
