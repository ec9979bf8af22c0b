"""Run one check in a child process, so that a bad file can harm only itself."""

import multiprocessing
import os
import resource
from collections.abc import Callable
from typing import Any

from aftersit.children import end_with_parent
from aftersit.errors import AftersitError
from aftersit.trouble import where


class IsolatedError(AftersitError):
    """The child took too long, too much memory, or broke."""

    def __init__(self, code: str, message: str):
        self.code = code
        super().__init__(message)


class _KilledError(IsolatedError):
    """Something else killed the child."""


def _child(pipe, parent: int, memory_bytes: int, work: Callable[..., Any], given: tuple) -> None:
    end_with_parent(parent)
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        pipe.send(("value", work(*given)))
    except MemoryError:
        pipe.send(("memory", ""))
    except BaseException as error:
        pipe.send(("broken", where(error)))
    finally:
        pipe.close()


def isolated(work: Callable[..., Any], *arguments: Any, seconds: float, memory_bytes: int) -> Any:
    """Call `work(*arguments)` in a forked child and return its (picklable) value.

    A child that something else kills says nothing of the file: it is started once more.

    Parameters
    ----------
    work : callable
        What to run; modules imported before the fork cost nothing again.
    *arguments
        Passed on.
    seconds : float
        Wall time after which the child is killed.
    memory_bytes : int
        Address space that the child may use.

    Raises
    ------
    IsolatedError
        Codes: `too-slow`, `too-much-memory`, `broken` (message = where, for a log only).
    """
    limits = seconds, memory_bytes
    try:
        return _tried(work, arguments, *limits)
    except _KilledError:
        return _tried(work, arguments, *limits)


def _tried(work: Callable[..., Any], arguments: tuple, seconds: float, memory_bytes: int) -> Any:
    context = multiprocessing.get_context("fork")
    receiver, sender = context.Pipe(duplex=False)
    child = context.Process(
        target=_child, args=(sender, os.getpid(), memory_bytes, work, arguments)
    )
    child.start()
    sender.close()
    try:
        if not receiver.poll(seconds):
            raise IsolatedError("too-slow", f"reading took more than {seconds:.0f} s")
        kind, value = receiver.recv()
    except EOFError:
        child.join()
        kind = _KilledError if child.exitcode < 0 else IsolatedError
        raise kind("broken", "the reading process died without a word") from None
    finally:
        receiver.close()
        child.kill()
        child.join()
    if kind == "memory":
        raise IsolatedError("too-much-memory", "reading took more memory than allowed")
    if kind == "broken":
        raise IsolatedError("broken", value)
    return value
