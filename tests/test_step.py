"""A step's limits, its reason in words, and that it ends with the workflow."""

import os
import signal
import subprocess
import sys
import time

import pytest

STEP = """
import sys, os, time, errno
from aftersit import step
from aftersit.errors import AftersitError
from aftersit.night.settings import load_night_settings
import numpy as np

limits = load_night_settings().model_copy(update={"step_seconds": 1.5, "step_memory_mb": 3000})
step.load_limits = lambda: limits

def work():
    WORK

step.run_step(work)
"""


def run(work: str, **environment) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-c", STEP.replace("WORK", work)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env=os.environ | environment,
    )


def test_a_good_step_ends_with_its_cost():
    done = run("np.ones(3_000_000).sum(); print('made it')")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "made it"
    assert lines[-1].startswith("cost: cpu_s=")
    assert float(lines[-1].split("peak_mb=")[1]) > 24


@pytest.mark.parametrize(
    ("work", "reason"),
    [
        ("raise AftersitError('the sheet has no block')", "the sheet has no block"),
        ("time.sleep(30)", "it took more than 2 s (`step_seconds`) and was stopped"),
        ("np.ones(10**10)", "it needs more memory than `step_memory_mb` allows"),
        ("raise OSError(errno.ENOSPC, 'x', 'Erika.edf')", "no space is left on the disk"),
        ("raise OSError(errno.EROFS, 'x')", "the disk can only be read, not written"),
        ("os.kill(os.getpid(), 9)", "it was killed (signal 9)"),
        ("raise ValueError('Erika slept badly')", "it failed in a way that this program does not"),
    ],
)
def test_a_failed_step_says_why_and_repeats_no_words(work, reason):
    done = run(work)
    assert done.returncode == 1
    (said,) = [line for line in done.stdout.splitlines() if line.startswith("reason: ")]
    assert said.startswith(f"reason: {reason}")
    assert "Erika" not in done.stdout.replace(work, "") + done.stderr


def test_a_step_of_a_dead_workflow_does_nothing():
    done = run("print('made it')", AFTERSIT_WORKFLOW="4194304")
    assert done.returncode == -signal.SIGKILL
    assert "made it" not in done.stdout


def test_a_step_ends_when_its_workflow_is_killed(tmp_path):
    """`prctl(2)`, PR_SET_PDEATHSIG: the kernel sees to it."""
    parent = (
        "import os, subprocess, sys\n"
        "os.environ['AFTERSIT_WORKFLOW'] = str(os.getpid())\n"
        "subprocess.run([sys.executable, '-c', sys.argv[1]])\n"
    )
    work = f"open({str(tmp_path / 'pid')!r}, 'w').write(str(os.getpid())); time.sleep(30)"
    workflow = subprocess.Popen([sys.executable, "-c", parent, STEP.replace("WORK", work)])
    while not (tmp_path / "pid").is_file() or not (tmp_path / "pid").read_text():
        time.sleep(0.02)
    workflow.kill()
    workflow.wait()
    pid = int((tmp_path / "pid").read_text())
    for _ in range(100):
        if not os.path.exists(f"/proc/{pid}") or _is_dead(pid):
            return
        time.sleep(0.01)
    raise AssertionError("the step lives on")


def _is_dead(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True
