import datetime as dt

import pytest

from aftersit.clinic import Clinic, SittingId
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.outcome import outcome_of, settle_outcomes, without_missing_inputs
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


def test_files_of_an_earlier_revision_do_not_count(clinic):
    (outcome,) = settle_outcomes(clinic, the_plan(clinic))
    assert outcome.failed_stage == "finish_sitting"
    assert Ledger(clinic).read(SITTING).finished.revision == 1


def test_the_stamp_of_the_revision_finishes_it(clinic):
    plan = the_plan(clinic)
    (clinic.root / plan.sittings[0].stamp).touch()
    (outcome,) = settle_outcomes(clinic, plan)
    assert outcome.failed_stage is None
    assert Ledger(clinic).read(SITTING).finished.revision == 2


def test_the_first_gap_names_the_stage(clinic):
    (one,) = the_plan(clinic).sittings
    (clinic.root / one.stages["measure_regions"][0]).unlink()
    assert outcome_of(clinic, one).failed_stage == "measure_regions"


@pytest.mark.parametrize(
    ("made", "missing"),
    [
        ((), "originals/K07/03/r1"),
        (("originals/K07/03/r1",), "originals/K07/03/r2"),
        (("originals/K07/03/r1", "originals/K07/03/r2"), "protocols/warm-heart/v2.yaml"),
    ],
)
def test_one_sitting_with_a_missing_input_does_not_stop_the_others(clinic, made, missing):
    for folder in made:
        (clinic.root / folder).mkdir(parents=True)
    kept, (outcome,) = without_missing_inputs(clinic, the_plan(clinic))
    assert kept.sittings == ()
    assert (outcome.failed_stage, outcome.missing) == ("inputs", missing)
