"""Which pages are made again after a clinic changed its words, and which stay."""

import datetime as dt

import pytest
from quick_nights import receive
from uploads import make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.files import sha256
from aftersit.night import run_plan, status
from aftersit.night.ledger import Ledger
from aftersit.night.outcome import mark_finished
from aftersit.night.plan import PlannedSitting, planned, read_plan
from aftersit.night.provenance import read_inputs, write_provenance
from aftersit.night.release import release
from aftersit.night.report import reviewed_files
from aftersit.night.reword import reword
from aftersit.pages import review

NOW = dt.datetime(2026, 3, 16, 2, tzinfo=dt.UTC)
READ, WAITING, NEWER = SittingId("K07", 1), SittingId("K08", 1), SittingId("K09", 1)


class PageWriter:
    """Stands for the workflow: remembers what it was asked for, and writes results if it can."""

    def __init__(self, fails: bool = False):
        self.asked: list[str] = []
        self.fails = fails

    def __call__(self, clinic, _night, _lock, *options, watch=None) -> int:
        assert "write_pages" in options
        for one in read_plan(clinic).sittings:
            self.asked.append(str(one.sitting))
            (clinic.root / one.stamp).unlink()
            if not self.fails:
                make_results(clinic, one)
        return int(self.fails)


def make_results(clinic: Clinic, one: PlannedSitting) -> None:
    """A file in every place that the workflow writes to, and a true stamp."""
    files = [place for stage in one.stages.values() for place in stage]
    for place in files:
        path = clinic.root / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"of {one.sitting}")
    told = [f"{sha256([clinic.root / f])}  {f}\n" for f in (*one.records, *one.pages)]
    (clinic.root / one.stamp).write_text("".join(told))


def finish(clinic: Clinic, sitting: SittingId) -> PlannedSitting:
    one = planned(Ledger(clinic).read(sitting))
    make_results(clinic, one)
    write_provenance(clinic, one, NOW)
    mark_finished(Ledger(clinic), one)
    return one


@pytest.fixture
def clinic(tmp_path):
    """Three finished sittings: one reviewed, one that waits, one made after words changed."""
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    for n, sitting in enumerate((READ, WAITING, NEWER), 1):
        make_upload(clinic.inbox / f"upload-{n}", n, client=sitting.client)
    receive(clinic)
    read = finish(clinic, READ)
    review.release(clinic, READ, "DR2", reviewed_files(clinic, read), NOW.date())
    finish(clinic, WAITING)
    (clinic.root / "words.yaml").write_text("handout: {title: Our hour together}\n")
    finish(clinic, NEWER)
    return clinic


@pytest.fixture
def pages(monkeypatch):
    writer = PageWriter()
    monkeypatch.setattr(run_plan, "run_workflow", writer)
    return writer


def reworded(clinic, *named) -> tuple[int, list[str]]:
    said: list[str] = []
    return reword(clinic, named, said.append), said


def test_only_pages_that_wait_for_a_review_with_earlier_words_are_made_again(clinic, pages):
    assert "of them with an earlier clinic.yaml or words.yaml: 1 (K08/01); `reword` makes" in (
        " ".join(status.describe(clinic, NOW))
    )
    code, said = reworded(clinic)
    assert (code, pages.asked) == (0, ["K08/01"])
    assert said == ["pages made again: 1 sitting; reviewed handouts stay"]
    assert "words.yaml" in read_inputs(clinic, WAITING)
    assert Ledger(clinic).is_finished(Ledger(clinic).read(WAITING))
    assert reworded(clinic)[0] == 0
    assert pages.asked == ["K08/01"]
    assert "earlier clinic.yaml" not in " ".join(status.describe(clinic, NOW))


def test_named_ones_are_made_again_in_any_case(clinic, pages):
    assert reworded(clinic, NEWER)[0] == 0
    assert pages.asked == ["K09/01"]


def test_a_reviewed_handout_stays_until_it_is_released_again(clinic, pages):
    with pytest.raises(AftersitError, match="K07/01 is reviewed, so its handout stays as it was"):
        reworded(clinic, READ)
    assert pages.asked == []
    told = release(clinic, READ, "DR3")
    assert pages.asked == ["K07/01"]
    assert told.endswith("\nwords.yaml changed since: read it once more")
    assert "once more" not in release(clinic, READ, "DR3")


def test_pages_that_fail_are_left_to_the_next_night(clinic, pages):
    pages.fails = True
    code, (failed, last) = reworded(clinic)
    assert code == 4
    assert failed.startswith("failed K08/01: its pages could not be made; see ")
    assert last.startswith("pages made again: 0 sittings")
    assert Ledger(clinic).read(WAITING).finished is None


def test_an_unknown_sitting_is_named(clinic, pages):
    with pytest.raises(AftersitError, match="has no sitting K11/04"):
        reworded(clinic, SittingId("K11", 4))
