"""Die at a chosen moment: before the n-th call that changes the file system."""

import os
from collections.abc import Callable

CHANGES = (
    *("chmod", "fsync", "ftruncate", "link", "mkdir", "open", "rename", "replace"),
    *("rmdir", "symlink", "unlink", "utime", "write"),
)
KILLED = 9


def dies_at(number: int, work: Callable[[], object]) -> bool:
    """Do the work in a child that dies before its n-th change, without a word; False = it lived."""
    child = os.fork()
    if child == 0:
        _count_down(number)
        try:
            work()
        except BaseException:
            import traceback

            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in (0, KILLED), f"the work itself failed with {code}"
    return code == KILLED


def _count_down(number: int) -> None:
    left = [number]

    def counted(call: Callable) -> Callable:
        def wrapper(*arguments, **options):
            left[0] -= 1
            if left[0] == 0:
                os._exit(KILLED)
            return call(*arguments, **options)

        return wrapper

    for name in CHANGES:
        setattr(os, name, counted(getattr(os, name)))
