"""Memory of arrays that come and go."""

import ctypes

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Parameters of `mallopt(3)`."""
LARGE_BYTES = 128 * 2**20
"""The signal of a usual sitting is smaller; that of three hours is not, and goes at once."""


def keep_what_is_freed() -> None:
    """Let the C library hand out freed memory again instead of asking the kernel for new.

    A sitting's signal is copied often, and each copy would be cleared page by page: a tenth of a
    step's time. What is larger than `LARGE_BYTES` is returned when it is freed. Does nothing
    where the C library is another one than GNU's.
    """
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt:
        mallopt(_MMAP_THRESHOLD, LARGE_BYTES)
        mallopt(_TRIM_THRESHOLD, LARGE_BYTES)
