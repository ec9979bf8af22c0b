import os
import threading

from aftersit.clinic import Clinic
from aftersit.night import snakemake
from aftersit.night.settings import load_night_settings

ONE_RULE = """
rule all:
    output: "made.txt"
    shell: "echo $TMPDIR > {output}"
"""


def ran_in(folder):
    """A clinic in which the workflow has run without an error."""
    clinic = Clinic(folder / "clinic")
    clinic.state.mkdir(parents=True)
    lock = os.open(clinic.state / "lock", os.O_RDWR | os.O_CREAT)
    exit_code = snakemake.run_workflow(clinic, load_night_settings(), lock)
    os.close(lock)
    assert exit_code == 0, (clinic.state / "logs" / "workflow.log").read_text()
    return clinic


def test_a_home_that_can_not_be_written_does_not_keep_the_workflow_from_running(
    tmp_path, monkeypatch
):
    """As in the shipped unit (`ProtectHome`); in proc(5) nothing can be made, not even by root."""
    (tmp_path / "Snakefile").write_text(ONE_RULE)
    monkeypatch.setattr(snakemake, "SNAKEFILE", tmp_path / "Snakefile")
    monkeypatch.setenv("HOME", "/proc/nobody")
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    clinic = ran_in(tmp_path)
    assert (clinic.root / "made.txt").read_text() == f"{clinic.state / 'tmp'}\n"
    assert not (clinic.state / "tmp").exists()


def test_no_timer_is_set_for_jobs_that_are_done(tmp_path, monkeypatch):
    """Snakemake's limit on jobs a second sets one for each, which looks at all jobs each second."""
    rule = ONE_RULE.replace("rule all:", "rule each:").replace("made.txt", "made-{n}.txt")
    wanted = 'rule all:\n    default_target: True\n    input: expand("made-{n}.txt", n=range(3))\n'
    (tmp_path / "Snakefile").write_text(wanted + rule)
    monkeypatch.setattr(snakemake, "SNAKEFILE", tmp_path / "Snakefile")
    monkeypatch.setattr(threading, "Timer", None)  # in the fork as well: to set one would fail
    clinic = ran_in(tmp_path)
    assert len(list(clinic.root.glob("made-*.txt"))) == 3
