"""What the bench of nights measures is what it says: finished archives, costs of commands."""

import sys

import pytest

from aftersit.bench import night
from aftersit.bench.finished_clinic import make_archive
from aftersit.bench.spent import spent_by
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.plan import planned, unfinished
from aftersit.night.run import run_night
from aftersit.night.stamp import stamped


def test_a_made_archive_leaves_a_night_nothing_to_do(tmp_path):
    clinic = make_archive(tmp_path / "clinic", 13)
    ledger = Ledger(clinic)
    assert len(ledger.entries()) == 13
    assert unfinished(ledger).sittings == ()
    said = []
    assert run_night(clinic, said.append).exit_code == 0
    assert said == ["nothing to process"]
    # A stamp of the bench vouches for nothing: only a night with work would read it.
    assert stamped(clinic, planned(ledger.entries()[3])) == {}


def test_memory_and_processor_time_of_children_count():
    big = "import time; held = b'x' * 90_000_000; sum(range(9_000_000)); time.sleep(0.5)"
    code = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {big!r}])"
    spent = spent_by([sys.executable, "-c", code])
    assert spent.peak_mb > 90
    assert spent.cpu_s > 0.05
    assert spent.wall_s > 0.5


def test_processes_are_told_apart_by_their_words():
    work = "import time; sum(range(9_000_000)); time.sleep(0.6)"
    code = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {work!r}, 'child'])"
    spent = spent_by([sys.executable, "-c", code], lambda words: "a" if "child" in words else None)
    assert 0.02 < spent.of_parts_s["a"] <= spent.cpu_s


def test_a_command_that_fails_is_an_error():
    with pytest.raises(AftersitError, match="ended with 3"):
        spent_by([sys.executable, "-c", "raise SystemExit(3)"])
    assert spent_by([sys.executable, "-c", "raise SystemExit(3)"], good_codes=(3,)).cpu_s > 0


def test_an_unknown_part_is_named():
    with pytest.raises(AftersitError, match="empty, sitting, many, long"):
        next(night.tables(True, "longest"))
