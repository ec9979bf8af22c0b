"""What a call costs: processor seconds, wall seconds, peak memory, in a process of its own."""

import multiprocessing
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from aftersit.errors import AftersitError


@dataclass(frozen=True)
class Cost:
    """Processor seconds, wall seconds and peak memory (MB) of a process."""

    cpu_s: float
    wall_s: float
    peak_mb: float


def cost_of(work: Callable[..., object], *arguments: object) -> Cost:
    """Run `work(*arguments)` in a fresh interpreter, imports included.

    Raises
    ------
    AftersitError
        The work failed.
    """
    context = multiprocessing.get_context("spawn")
    receive, send = context.Pipe(duplex=False)
    process = context.Process(target=_measured, args=(send, work, arguments))
    process.start()
    send.close()
    try:
        return receive.recv()
    except EOFError:
        raise AftersitError(f"{work.__name__} failed while it was measured") from None
    finally:
        process.join()


def _measured(send, work: Callable[..., object], arguments: tuple) -> None:
    started = time.monotonic()
    work(*arguments)
    used = resource.getrusage(resource.RUSAGE_SELF)
    wall_s = time.monotonic() - started
    send.send(Cost(used.ru_utime + used.ru_stime, wall_s, _peak_mb()))


def _peak_mb() -> float:
    """Of this program alone; `ru_maxrss` would begin with the peak of the process that forked."""
    status = Path("/proc/self/status").read_text()
    (kilobytes,) = (line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
    return int(kilobytes) / 1024
