import os
import signal
import time

import numpy as np
import pytest

from aftersit.night.isolated import IsolatedError, isolated

LIMITS = {"seconds": 5, "memory_bytes": 3 * 10**9}


def test_the_value_comes_back():
    assert isolated(lambda a, b: {"sum": a + b}, 2, 5, **LIMITS) == {"sum": 7}


@pytest.mark.parametrize(
    ("work", "code", "text"),
    [
        (lambda: time.sleep(30), "too-slow", "more than 0 s"),
        (lambda: np.ones(10**12), "too-much-memory", "more memory than allowed"),
        (lambda: 1 // 0, "broken", "ZeroDivisionError"),
        (lambda: os._exit(9), "broken", "died without a word"),
        (lambda: os.kill(os.getpid(), signal.SIGKILL), "broken", "died without a word"),
    ],
)
def test_what_goes_wrong_stays_in_the_child(work, code, text):
    limits = LIMITS | ({"seconds": 0.2} if code == "too-slow" else {})
    with pytest.raises(IsolatedError, match=text) as caught:
        isolated(work, **limits)
    assert caught.value.code == code


def test_a_child_that_is_killed_once_is_started_again(tmp_path):
    """The first one leaves a mark, by which the second knows that it is not the first."""
    mark = tmp_path / "mark"

    def work():
        if not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return 41

    assert isolated(work, **LIMITS) == 41
