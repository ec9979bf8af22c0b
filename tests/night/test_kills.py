"""Kill -9 at 60 random moments: the same bytes as an undisturbed night.

Moments are seeded shares of the time that the undisturbed night took here, so they fall
into receiving, starting, every step and the end. A clinic is killed several times in a
row before a night may finish; then everything but clock times is compared.
"""

import os
import random
import shutil
import signal
import subprocess
import time
from collections import Counter

import pytest
from nights import MOST_S, descendants, differences, kill_group, results, run_night, start_night

KILLS = 30
IN_A_ROW = 5
pytestmark = pytest.mark.slow


def finish_and_compare(clinic, undisturbed) -> None:
    """Let a night run to its end; nothing may differ, nor any temporary file be left."""
    code, said = run_night(clinic.root)
    assert code in (0, 3), said
    assert "Traceback" not in said
    assert differences(results(clinic), undisturbed.made) == []
    shutil.rmtree(clinic.root)


def test_the_whole_process_group(undisturbed, tmp_path):
    rng = random.Random(20260314)
    kills, what = 0, Counter()
    while kills < KILLS:
        clinic = undisturbed.begin(tmp_path / f"after-{kills}")
        for _ in range(IN_A_ROW):
            night = start_night(clinic.root)
            try:
                night.communicate(timeout=rng.uniform(0.02, 0.6) * undisturbed.took_s)
                break  # it was quicker than the undisturbed one
            except subprocess.TimeoutExpired:
                running = descendants(night.pid)
                kill_group(night)
                kills += 1
                what[running[-1].what if running else "night"] += 1
        finish_and_compare(clinic, undisturbed)
    print(f"\nkilled while doing: {dict(what)}")


def test_single_workers(undisturbed, tmp_path):
    """A child of the night, chosen at random; the night goes on and says what failed."""
    rng = random.Random(20260315)
    kills, what = 0, Counter()
    while kills < KILLS:
        clinic = undisturbed.begin(tmp_path / f"after-{kills}")
        for _ in range(IN_A_ROW):
            night = start_night(clinic.root)
            while night.poll() is None and kills < KILLS:
                time.sleep(rng.uniform(0.02, 0.3) * undisturbed.took_s)
                running = descendants(night.pid)
                if night.poll() is None and running:
                    victim = rng.choice(running)
                    os.kill(victim.pid, signal.SIGKILL)
                    kills += 1
                    what[victim.what] += 1
            said, _ = night.communicate(timeout=MOST_S)
            assert night.returncode in (0, 3, 4), said
            assert "Traceback" not in said
            assert descendants(night.pid) == []
        finish_and_compare(clinic, undisturbed)
    print(f"\nkilled: {dict(what)}")
