import datetime as dt

import pytest

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import unfinished


def entry(client="K07", number=3, revisions=1, finished=None):
    return Entry(
        client=client,
        number=number,
        date=dt.date(2026, 3, 14),
        recording_sha256="ab",
        revisions=[
            Revision(number=r, upload=f"up{r}", sheet_sha256=f"{r}")
            for r in range(1, revisions + 1)
        ],
        protocols={"warm-heart": 2},
        settings="s1",
        finished=finished,
    )


@pytest.fixture
def ledger(tmp_path):
    return Ledger(Clinic(tmp_path))


def test_entries_come_back_by_client_and_number(ledger):
    for client, number in (("K07", 12), ("B2", 3), ("K07", 3)):
        ledger.write(entry(client, number))
    assert [str(e.sitting) for e in ledger.entries()] == ["B2/03", "K07/03", "K07/12"]
    assert ledger.read(SittingId("K07", 12)) == entry("K07", 12)
    assert ledger.read(SittingId("K07", 4)) is None


def test_finished_means_newest_revision_and_files_there(ledger, tmp_path):
    done = Finished(revision=1, outputs=("page.html",))
    assert not ledger.is_finished(entry(finished=done))
    (tmp_path / "page.html").write_text("x")
    assert ledger.is_finished(entry(finished=done))
    assert not ledger.is_finished(entry(revisions=2, finished=done))


def test_the_plan_holds_only_what_is_unfinished(ledger, tmp_path):
    (tmp_path / "page.html").write_text("x")
    ledger.write(entry(number=3, finished=Finished(revision=1, outputs=("page.html",))))
    ledger.write(entry(number=4, revisions=2))
    plan = unfinished(ledger)
    assert [(s.number, s.revision) for s in plan.sittings] == [(4, 2)]
    assert plan.sittings[0].original == "originals/K07/04/r2"
    assert plan.sittings[0].records == [
        "derivatives/replay-s1-warm-heart-v2/sub-K07/ses-04/record.json"
    ]


def test_a_damaged_entry_is_named(ledger):
    ledger.write(entry())
    ledger.path(SittingId("K07", 3)).write_text('{"client": "K07", "num')
    with pytest.raises(AftersitError, match=r"ledger/K07-03\.json is damaged; put it back"):
        Ledger(ledger.clinic).entries()
