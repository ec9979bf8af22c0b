"""Forks of this process: their exit codes, names and output."""

import os
import sys
from pathlib import Path

import pytest

from aftersit.children import forked, speak_to


def ended(child: int) -> int:
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


@pytest.mark.parametrize(
    ("work", "code"),
    [
        (lambda: None, 0),
        (lambda: sys.exit(7), 7),
        (lambda: sys.exit(), 0),
        (lambda: sys.exit("a reason"), 1),
        (lambda: 2 / 0, 1),
    ],
)
def test_a_fork_ends_as_a_program_does(work, code):
    """As `sys.exit` says in Python's documentation: numbers are codes, any other object is 1."""
    assert ended(forked("some-work", work)) == code


def test_a_fork_has_its_own_name_and_says_what_it_says_where_it_is_told(tmp_path):
    def work():
        with (tmp_path / "out").open("w") as out, (tmp_path / "errors").open("w") as errors:
            speak_to(out.fileno(), errors.fileno())
        print(Path("/proc/self/comm").read_text().strip())
        os.write(1, b"from below\n")
        print("\udce9", file=sys.stderr)

    assert ended(forked("some-work", work)) == 0
    assert sorted((tmp_path / "out").read_text().splitlines()) == ["from below", "some-work"]
    assert (tmp_path / "errors").read_text() == "\\udce9\n"


def test_an_error_is_told_without_its_text(capfd):
    def work():
        raise ValueError("".join(["Eri", "ka slept badly"]))  # the line itself may be told

    assert ended(forked("some-work", work)) == 1
    told = capfd.readouterr().err
    assert "ValueError" in told
    assert "Erika" not in told


def test_what_waits_to_be_said_is_said_once(capfd):
    print("before", end="")
    assert ended(forked("some-work", lambda: None)) == 0
    sys.stdout.flush()
    assert capfd.readouterr().out == "before"
