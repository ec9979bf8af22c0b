"""The workflow's wiring: the linter's word, the graph, and which steps would run."""

import datetime as dt
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from aftersit.clinic import Clinic
from aftersit.night.facts import facts_folder
from aftersit.night.ledger import Entry, Ledger, Revision

REPOSITORY = Path(__file__).parents[1]


def snakemake(clinic, *options):
    return subprocess.run(
        [
            *(sys.executable, "-m", "snakemake", "--snakefile", str(REPOSITORY / "Snakefile")),
            *("--directory", str(clinic), *options),
        ],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    """Two received sittings of one client, the second under two protocols."""
    root = tmp_path_factory.mktemp("clinic")
    (root / "clinic.yaml").touch()
    for name in ("warm-heart", "soft-alpha"):
        kept = Clinic(root).kept_protocols / name
        kept.mkdir(parents=True)
        (kept / "v1.yaml").touch()
    ledger = Ledger(Clinic(root))
    for number, protocols in ((1, ["warm-heart"]), (2, ["warm-heart", "soft-alpha"])):
        entry = Entry(
            client="K07",
            number=number,
            date=dt.date(2026, 3, number),
            recording_sha256=f"{number}",
            revisions=[Revision(number=1, upload=f"u{number}", sheet_sha256="x")],
            protocols=dict.fromkeys(protocols, 1),
            settings="s1",
        )
        original = ledger.clinic.original(entry.sitting, 1)
        original.mkdir(parents=True)
        (original / "a.edf").touch()
        (original / "sitting.yaml").touch()
        facts = facts_folder(ledger.clinic, entry.sitting)
        facts.mkdir(parents=True)
        (facts / "ab12.json").touch()
        ledger.write(entry)
    return root


def test_the_linter_has_nothing_to_say(clinic):
    done = snakemake(clinic, "--lint")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Lints for" not in done.stdout + done.stderr


def test_each_step_is_planned_as_often_as_needed(clinic):
    done = snakemake(clinic, "--dry-run", "--quiet", "rules")
    assert done.returncode == 0, done.stderr
    counts = dict(line.split() for line in done.stdout.splitlines() if len(line.split()) == 2)
    assert {rule: int(n) for rule, n in counts.items() if n.isdigit()} == {
        "all": 1,
        "build_head": 1,
        "draw_heads": 1,
        "write_bids": 2,
        "clean_recording": 2,
        "measure_regions": 2,
        "replay_protocol": 3,
        "write_pages": 2,
        "write_progress": 1,
        "finish_sitting": 2,
        "total": 17,
    }


def test_cleaning_declares_every_file_that_it_writes_for_a_sitting(clinic):
    """What is not declared is neither missed when it is lost nor removed with the rest."""
    done = snakemake(clinic, "--summary")
    assert done.returncode == 0, done.stderr
    stem = "derivatives/clean-s1/sub-K07/ses-02/eeg/sub-K07_ses-02_task-sitting_desc-clean"
    files = {line.split("\t")[0] for line in done.stdout.splitlines()}
    assert {f.removeprefix(stem) for f in files if f.startswith(stem)} == {
        *(f"_eeg{ending}" for ending in (".vhdr", ".eeg", ".vmrk", ".json")),
        *("_channels.tsv", "_events.tsv", "_events.json"),
    }


def test_the_graph_can_be_drawn(clinic):
    done = snakemake(clinic, "--dag")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("digraph")
    assert "clean_recording" in done.stdout


def test_the_snakefile_reads_on_one_screen():
    lines = (REPOSITORY / "Snakefile").read_text().splitlines()
    assert len(lines) <= 40


def test_changed_regions_never_repeat_the_cleaning(clinic):
    listed = snakemake(clinic, "--summary")
    files = [line.split("\t")[0] for line in listed.stdout.splitlines()[1:]]
    for name in files:
        path = clinic / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("made")
    (clinic / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    done = snakemake(clinic, "--dry-run", "--rerun-triggers", "mtime", "--quiet", "rules")
    for path in (clinic / "derivatives", clinic / "reports"):
        shutil.rmtree(path)
    (clinic / "regions.yaml").unlink()
    planned = {line.split()[0] for line in done.stdout.splitlines() if len(line.split()) == 2}
    assert {"measure_regions", "replay_protocol", "write_pages"} <= planned
    assert planned.isdisjoint({"clean_recording", "write_bids", "build_head", "draw_heads"})
