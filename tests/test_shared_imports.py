"""Steps that one process with all imports runs: the same as by themselves, each for itself."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from aftersit.hand_over import PLACE
from aftersit.shared_imports import LATER, NAME, serving

SCRIPTS = Path(__file__).parents[1] / "scripts"
STEP = """
import sys
from aftersit.step import run_step

def main():
    from pathlib import Path
    import os, time
    from aftersit.errors import AftersitError
    WORK

if __name__ == "__main__":
    run_step(main)
"""


@pytest.fixture(scope="module")
def clinic(tmp_path_factory) -> Path:
    # Longer than the 108 bytes that the address of a socket may have (unix(7)).
    root = tmp_path_factory.mktemp("clinic") / ("long" * 30)
    (root / ".aftersit" / "tmp").mkdir(parents=True)
    return root


@pytest.fixture(scope="module")
def shared(clinic):
    with serving(clinic) as environment:
        yield environment


def start(clinic: Path, work: str, environment: dict, *words: str) -> subprocess.Popen:
    script = clinic / f"step-{abs(hash(work))}.py"
    script.write_text(STEP.replace("WORK", work))
    return subprocess.Popen(
        [sys.executable, str(script), *words],
        cwd=clinic,
        env=os.environ | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def run(clinic: Path, work: str, environment: dict, *words: str) -> tuple[int, list[str]]:
    """Exit code, and what it said but for its cost."""
    step = start(clinic, work, environment, *words)
    said, _ = step.communicate(timeout=60)
    lines = said.splitlines()
    assert lines[-1].startswith("cost: cpu_s="), said
    return step.returncode, lines[:-1]


@pytest.mark.parametrize(
    ("work", "code"),
    [
        ("print(sys.argv[1:], Path.cwd().name, os.getenv('OMP_NUM_THREADS')); sys.exit(3)", 1),
        ("raise AftersitError('the sheet has no block')", 1),
        ("raise ValueError('Erika slept badly')", 1),
        ("os.kill(os.getpid(), 9)", 1),
        ("os.write(2, b'a warning' + bytes([10]))", 0),
    ],
)
def test_a_step_says_and_does_the_same_by_itself(clinic, shared, work, code):
    one_thread = {"OMP_NUM_THREADS": "1"}
    together = run(clinic, work, shared | one_thread, "--a", "b c")
    alone = run(clinic, work, one_thread, "--a", "b c")
    assert together[0] == alone[0] == code
    kept = [[line for line in said if "File " not in line] for _, said in (together, alone)]
    assert kept[0] == kept[1]


def test_what_a_step_writes_for_a_while_lies_in_the_clinic(clinic, shared):
    work = "import tempfile; print(tempfile.gettempdir())"
    assert run(clinic, work, shared) == (0, [str(clinic / ".aftersit" / "tmp")])


def test_what_one_step_changes_does_not_reach_the_next(clinic, shared):
    work = "print(os.environ.get('LEFT'), hasattr(os, 'left')); os.environ['LEFT'] = os.left = 'x'"
    for _ in range(2):
        assert run(clinic, work, shared) == (0, ["None False"])


def test_a_step_really_runs_in_the_shared_process(clinic, shared):
    work = "print(Path('/proc/self/comm').read_text().strip())"
    assert run(clinic, work, shared) == (0, [NAME])
    assert run(clinic, work, {}) != (0, [NAME])


def test_without_the_process_a_step_runs_by_itself(clinic):
    assert run(clinic, "print('made it')", {PLACE: ".aftersit/tmp/nobody"}) == (0, ["made it"])


def test_a_step_ends_with_its_own_program(clinic, shared):
    place = clinic / "pid"
    step = start(
        clinic, f"Path({str(place)!r}).write_text(str(os.getpid())); time.sleep(60)", shared
    )
    pid = _written(place)
    step.kill()
    step.communicate()
    _wait_until_dead(pid)


def test_a_step_ends_with_the_shared_process(clinic):
    place, other = clinic / "pid-2", clinic / "other"
    (other / ".aftersit" / "tmp").mkdir(parents=True)
    with serving(other) as environment:
        work = f"Path({str(place)!r}).write_text(str(os.getpid())); time.sleep(60)"
        step = start(other, work, environment)
        pid = _written(place)
        os.kill(_parent(_parent(pid)), signal.SIGKILL)
        step.communicate(timeout=30)
        assert step.returncode == 1
    _wait_until_dead(pid)


def test_the_process_imports_what_all_steps_need_and_starts_no_thread():
    """`fork(2)`: the child has only the thread that forked, and locks of others stay locked."""
    code = (
        "import os, sys\nfrom pathlib import Path\nfrom aftersit.shared_imports import load\n"
        "for script in sys.argv[1:]: load(Path(script))\n"
        "print(len(os.listdir('/proc/self/task')))"
    )
    steps = [str(SCRIPTS / f"{name}.py") for name in LATER]
    told = subprocess.run([sys.executable, "-c", code, *steps], capture_output=True, text=True)
    assert told.stdout == "1\n", told.stderr


def _written(place: Path) -> int:
    for _ in range(3000):
        if place.is_file() and place.read_text():
            return int(place.read_text())
        time.sleep(0.01)
    raise AssertionError("the step never began")


def _parent(pid: int) -> int:
    return int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[1])


def _wait_until_dead(pid: int) -> None:
    for _ in range(1000):
        try:
            state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            return
        if state == "Z":
            return
        time.sleep(0.01)
    raise AssertionError("the step lives on")
