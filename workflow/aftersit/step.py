"""Run one step of the workflow: its limits, errors in plain words, its cost in its log."""

import os
import resource
import select
import signal
import sys
import time
from collections.abc import Callable

from aftersit.children import end_with_parent
from aftersit.errors import AftersitError
from aftersit.night.settings import NightSettings, load_night_settings
from aftersit.trouble import in_words, where

REASON = "reason: "
"""Begins the line of a step's log that says why it failed."""


def run_step(work: Callable[[], None]) -> None:
    """Call `work` in a child process and exit; reason and cost are its log's last lines.

    The child may use `step_memory_mb` and `step_seconds` of `config/config.yaml`.
    Exits with 1 when it failed: an `AftersitError` and errors of the system are
    said in one line; for any other the log says where it arose, not its text.
    """
    limits = load_night_settings()
    parent = os.environ.get("AFTERSIT_WORKFLOW")
    if parent:
        end_with_parent(int(parent))
    started, me = time.monotonic(), os.getpid()
    child = os.fork()
    if child == 0:
        end_with_parent(me)
        resource.setrlimit(resource.RLIMIT_AS, (limits.step_memory_mb * 10**6,) * 2)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        sys.exit(_done(work))
    status, used = _wait(child, limits)
    print(
        f"cost: cpu_s={used.ru_utime + used.ru_stime:.2f}"
        f" wall_s={time.monotonic() - started:.2f} peak_mb={used.ru_maxrss / 1024:.0f}"
    )
    sys.exit(int(status != 0))


def _done(work: Callable[[], None]) -> int:
    """Do the work; 0, or 1 after saying why not."""
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
    else:
        return 0
    return 1


def _wait(child: int, limits: NightSettings) -> tuple[int, resource.struct_rusage]:
    """Exit status and cost of the child, which is killed after its time."""
    descriptor = os.pidfd_open(child)
    in_time, _, _ = select.select([descriptor], [], [], limits.step_seconds)
    os.close(descriptor)
    if not in_time:
        os.kill(child, signal.SIGKILL)
        _say(f"it took more than {limits.step_seconds:.0f} s (`step_seconds`) and was stopped")
    _, status, used = os.wait4(child, 0)
    if in_time and os.WIFSIGNALED(status):
        _say(f"it was killed (signal {os.WTERMSIG(status)}), perhaps for lack of memory")
    return status, used


def _say(reason: str) -> None:
    print(f"{REASON}{reason}", flush=True)
