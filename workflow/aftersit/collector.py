"""Work in which Python does not look for cycles among objects."""

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def without_collector() -> Iterator[None]:
    """Leave cycles alone, as suits a process that soon ends.

    Imports and pages make so many objects that looking through them costs a tenth of the time.
    """
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()
