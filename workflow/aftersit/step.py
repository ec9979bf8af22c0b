"""Run one step of the workflow: errors in plain words, its cost in its log."""

import resource
import sys
import time
from collections.abc import Callable

from aftersit.errors import AftersitError


def run_step(work: Callable[[], None]) -> None:
    """Call `work` and exit; the cost goes to the log as its last line.

    Exits with 1 and one line for an `AftersitError`; other errors keep their
    traceback, since they are faults of the project and not of a user.
    """
    started = time.monotonic()
    try:
        work()
    except AftersitError as error:
        sys.exit(f"{type(error).__name__}: {error}")
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(
        f"cost: cpu_s={used.ru_utime + used.ru_stime:.2f}"
        f" wall_s={time.monotonic() - started:.2f} peak_mb={used.ru_maxrss / 1024:.0f}"
    )
