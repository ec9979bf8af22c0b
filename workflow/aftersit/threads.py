"""One thread for sums, so that they are made in the same order everywhere."""

import os

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


def use_one_thread() -> None:
    """Tell libraries; they listen when numpy is first imported and not later."""
    os.environ |= ONE_THREAD
