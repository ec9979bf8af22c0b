import datetime as dt
import shutil
import subprocess

import pytest

from aftersit.clinic import Clinic, SittingId
from aftersit.night.layout import WORKFLOW_LOG
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.outcome import Outcome, mark_finished, outcome_of, without_missing_inputs
from aftersit.night.plan import plan_of, planned

SITTING = SittingId("K07", 3)


@pytest.fixture
def clinic(tmp_path):
    """A sitting with two revisions; the first is finished, with every file of it there."""
    clinic = Clinic(tmp_path)
    entry = Entry(
        client="K07",
        number=3,
        date=dt.date(2026, 3, 14),
        recording_sha256="ab",
        revisions=[Revision(number=r, upload="u", sheet_sha256=str(r)) for r in (1, 2)],
        protocols={"warm-heart": 2},
        settings="s1",
    )
    first = planned(entry.model_copy(update={"revisions": entry.revisions[:1]}))
    for path in [p for files in first.stages.values() for p in files]:
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).touch()
    outputs = (*first.records, *first.pages)
    done = entry.model_copy(update={"finished": Finished(revision=1, outputs=outputs)})
    Ledger(clinic).write(done)
    return clinic


def the_plan(clinic):
    return plan_of(Ledger(clinic).entries())


def stamp(clinic, one):
    """What the last step writes, by coreutils itself."""
    (clinic.root / one.stamp).parent.mkdir(parents=True, exist_ok=True)
    done = subprocess.run(
        ["sha256sum", *one.records, *one.pages],
        cwd=clinic.root,
        capture_output=True,
        text=True,
        check=True,
    )
    (clinic.root / one.stamp).write_text(done.stdout)


def test_files_of_an_earlier_revision_do_not_count(clinic):
    (one,) = the_plan(clinic).sittings
    assert outcome_of(clinic, one).failed_stage == "finish_sitting"


@pytest.mark.parametrize(
    ("free_mb", "reason"), [(3, "no space is left on the disk; make room on it"), (300, None)]
)
def test_a_step_that_could_not_say_why_on_a_full_disk(clinic, monkeypatch, free_mb, reason):
    free = shutil.disk_usage(clinic.root)._replace(free=free_mb * 10**6)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: free)
    (one,) = the_plan(clinic).sittings
    assert outcome_of(clinic, one).reason == reason


def test_the_stamp_of_the_revision_finishes_it(clinic):
    (one,) = the_plan(clinic).sittings
    stamp(clinic, one)
    assert outcome_of(clinic, one).failed_stage is None
    ledger = Ledger(clinic)
    mark_finished(ledger, one)
    assert Ledger(clinic).read(SITTING).finished.revision == 2
    assert ledger.is_finished(ledger.read(SITTING))


@pytest.mark.parametrize("harm", ["cut", "empty", "page"])
def test_a_half_written_result_is_not_done(clinic, harm):
    (one,) = the_plan(clinic).sittings
    stamp(clinic, one)
    if harm == "page":
        (clinic.root / one.pages[1]).write_bytes(b"half a pa")
    else:
        text = (clinic.root / one.stamp).read_text()
        (clinic.root / one.stamp).write_text(text[:-70] if harm == "cut" else "")
    assert outcome_of(clinic, one).failed_stage == "finish_sitting"


def test_the_first_gap_names_the_stage_and_its_log_the_reason(clinic):
    (one,) = the_plan(clinic).sittings
    (clinic.root / one.stages["measure_regions"][0]).unlink()
    assert outcome_of(clinic, one) == Outcome(one, "measure_regions", None, WORKFLOW_LOG)
    log = clinic.root / one.logs / "measure_regions-s1.log"
    log.parent.mkdir(parents=True)
    log.write_text("Traceback\nreason: no space is left\ncost: cpu_s=1.00\n")
    told = outcome_of(clinic, one)
    assert (told.reason, told.log) == ("no space is left", ".aftersit/logs/K07-03")
    later_ns = log.stat().st_mtime_ns + 7
    told = outcome_of(clinic, one, since_ns=later_ns)
    assert (told.reason, told.log) == (None, ".aftersit/logs/workflow.log")


@pytest.mark.parametrize(
    ("made", "missing"),
    [
        ((), "originals/K07/03/r1"),
        (("originals/K07/03/r1",), "originals/K07/03/r2"),
        (("originals/K07/03/r1", "originals/K07/03/r2"), "originals/K07/03/r2/sitting.yaml"),
        (
            ("originals/K07/03/r1", "originals/K07/03/r2/sitting.yaml"),
            ".aftersit/protocols/warm-heart/v2.yaml",
        ),
    ],
)
def test_one_sitting_with_a_missing_input_does_not_stop_the_others(clinic, made, missing):
    for folder in made:
        (clinic.root / folder).mkdir(parents=True)
    kept, (outcome,) = without_missing_inputs(clinic, the_plan(clinic))
    assert kept.sittings == ()
    assert outcome.failed_stage == "inputs"
    assert outcome.reason.startswith(f"{missing} was there")
