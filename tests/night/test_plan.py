"""What came late counts where its date stands."""

import datetime as dt
from itertools import permutations

import pytest

from aftersit.clinic import Clinic
from aftersit.night.client_pages import made_from, with_progress
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import in_order, plan_of, planned, unfinished

PROTOCOLS = {"2026-01-05": "old", "2026-02-09": "old", "2026-03-05": "new"}


def entries(dates) -> list[Entry]:
    """A client's sittings, numbered as they came."""
    return [
        Entry(
            client="K07",
            number=number,
            date=dt.date.fromisoformat(date),
            recording_sha256=date,
            revisions=[Revision(number=3, upload="u", sheet_sha256=date)],
            protocols={PROTOCOLS[date]: 2},
            settings="s1",
        )
        for number, date in enumerate(dates, 4)
    ]


@pytest.mark.parametrize("dates", [*permutations(PROTOCOLS)])
def test_the_order_of_arrival_changes_neither_yardstick_nor_course(dates):
    plan = plan_of(entries(dates))
    assert plan.yardstick("K07") == ("new", 2)
    assert [str(s.date) for s in plan.of_client("K07")] == sorted(dates)


def test_of_two_sittings_of_one_day_the_first_to_come_is_the_first():
    plan = plan_of(entries(["2026-02-09", "2026-01-05", "2026-02-09"])[::-1])
    assert [s.number for s in in_order(plan.sittings)] == [5, 4, 6]


def test_a_page_tells_its_sittings_in_the_order_in_which_it_is_known_again(tmp_path):
    """Else its client's page would be made again every night."""
    (tmp_path / "clinic.yaml").write_text("x")
    sittings = plan_of(entries(["2026-02-09", "2026-03-05", "2026-01-05"])).sittings
    told = [(s.number, s.revision, s.settings) for s in in_order(sittings)]
    assert [number for number, *_ in told] == [6, 4, 5]
    assert made_from(Clinic(tmp_path), sittings)[0] == told


def finished_clinic(root, dates) -> Ledger:
    """A ledger in which all of a client's sittings but the last to come are finished."""
    ledger = Ledger(Clinic(root))
    *done, new = entries(dates)
    for entry in done:
        record = f"{planned(entry).records[0]}"
        (root / record).parent.mkdir(parents=True)
        (root / record).touch()
        finished = Finished(revision=3, outputs=(record,))
        ledger.write(entry.model_copy(update={"finished": finished}))
    ledger.write(new)
    return ledger


@pytest.mark.parametrize(
    ("dates", "clients"),
    [
        (["2026-01-05", "2026-02-09"], ("K07",)),
        (["2026-01-05", "2026-03-05"], ()),  # the first lacks the newest one's protocol
        (["2026-03-05", "2026-01-05"], ()),  # and here the one that came last does
    ],
)
def test_progress_is_made_with_a_night_where_no_sitting_has_to_be_replayed_for_it(
    tmp_path, dates, clients
):
    ledger = finished_clinic(tmp_path, dates)
    plan = with_progress(ledger.clinic, ledger, unfinished(ledger))
    assert plan.clients == clients
    assert [s.number for s in plan.sittings] == [5]
    assert [s.number for s in plan.history] == [4]
