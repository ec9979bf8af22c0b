"""Run one step of the workflow: its limits, errors in plain words, its cost in its log."""

from __future__ import annotations

import os
import resource
import select
import signal
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from aftersit.children import end_with_parent
from aftersit.errors import AftersitError
from aftersit.hand_over import hand_over
from aftersit.memory import keep_what_is_freed

if TYPE_CHECKING:
    import socket

    from aftersit.night.settings import NightSettings

REASON = "reason: "
"""Begins the line of a step's log that says why it failed."""


def run_step(work: Callable[[], None]) -> None:
    """Do a step and exit with its code; reason and cost are its log's last lines.

    Another process does it where one has the imports already (`aftersit.hand_over`).
    """
    parent = os.environ.get("AFTERSIT_WORKFLOW")
    if parent:
        end_with_parent(int(parent))
    code = hand_over()
    sys.exit(run_forked(work) if code is None else code)


def run_forked(work: Callable[[], None], caller: socket.socket | None = None) -> int:
    """Call `work` in a child process; returns the exit code, 1 when it failed.

    The child may use `step_memory_mb` and `step_seconds` of `config/config.yaml`, and ends
    with the `caller`. An `AftersitError` and errors of the system are said in one line; for
    any other the log says where it arose, not its text.
    """
    limits = load_limits()
    started, me = time.monotonic(), os.getpid()
    child = os.fork()
    if child == 0:
        end_with_parent(me)
        resource.setrlimit(resource.RLIMIT_AS, (limits.step_memory_mb * 10**6,) * 2)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        keep_what_is_freed()
        _leave(_done(work))
    status, used = _wait(child, limits, caller)
    print(
        f"cost: cpu_s={used.ru_utime + used.ru_stime:.2f}"
        f" wall_s={time.monotonic() - started:.2f} peak_mb={used.ru_maxrss / 1024:.0f}"
    )
    return int(status != 0)


def load_limits() -> NightSettings:
    """How long a step may take, and how much memory."""
    from aftersit.night.settings import load_night_settings

    return load_night_settings()


def _leave(code: int) -> None:
    """End the child at once: what else there is to tidy belongs to the process it came from."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


def _done(work: Callable[[], None]) -> int:
    """Do the work; 0, or 1 after saying why not."""
    from aftersit.trouble import in_words, where

    try:
        work()
    except AftersitError as error:
        _say(f"{error}")
    except MemoryError:
        _say("it needs more memory than `step_memory_mb` allows")
    except OSError as error:
        print(where(error))
        _say(in_words(error))
    except Exception as error:
        print(where(error))
        _say("it failed in a way that this program does not know; the lines above say where")
    except SystemExit as error:  # a wrong call
        return error.code if isinstance(error.code, int) else 1
    else:
        return 0
    return 1


def _wait(
    child: int, limits: NightSettings, caller: socket.socket | None
) -> tuple[int, resource.struct_rusage]:
    """Exit status and cost of the child, which is killed after its time, or with its caller."""
    descriptor = os.pidfd_open(child)
    watched = [descriptor, caller] if caller else [descriptor]
    ready, _, _ = select.select(watched, [], [], limits.step_seconds)
    os.close(descriptor)
    if descriptor not in ready:
        os.kill(child, signal.SIGKILL)
    if not ready:
        _say(f"it took more than {limits.step_seconds:.0f} s (`step_seconds`) and was stopped")
    _, status, used = os.wait4(child, 0)
    if descriptor in ready and os.WIFSIGNALED(status):
        _say(f"it was killed (signal {os.WTERMSIG(status)}), perhaps for lack of memory")
    return status, used


def _say(reason: str) -> None:
    print(f"{REASON}{reason}", flush=True)
