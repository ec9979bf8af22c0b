"""Exports that were handed over or changed: what an audit and the status tell of them."""

import datetime as dt
import shutil

import bagit
import done_clinic
import pytest
from done_clinic import DAY

from aftersit.archive.bag import problems
from aftersit.archive.export import Wanted, export
from aftersit.archive.register import Exports, describe
from aftersit.archive.standing import standing
from aftersit.clinic import Clinic
from aftersit.night.audit import audit
from aftersit.night.status import describe as status

LATER = dt.datetime(2026, 4, 9, 12, tzinfo=dt.UTC)
METHODS = "data/methods.md"


@pytest.fixture
def exported(made, tmp_path):
    """A fresh copy of the clinic with its export."""
    shutil.copytree(made.root, tmp_path / "clinic")
    return Clinic(tmp_path / "clinic")


def bag_of(clinic):
    return clinic.root / "exports" / "first"


def audited(clinic, say):
    """What an audit finds of exports; the sittings here were never made by a night."""
    return [line for line in audit(clinic, 0, 3, say) if "exports" in line]


def test_a_whole_bag_is_counted_and_nothing_told(made, say):
    found = standing(made)
    assert (found.whole, found.broken, found.notes) == (1, [], [])
    assert audited(made, say) == []
    assert "exports: 1 are whole" in say.lines


def change(bag):
    (bag / METHODS).write_text("Other methods")


def same_length(bag):
    data = bytearray((bag / METHODS).read_bytes())
    data[77] ^= 2
    (bag / METHODS).write_bytes(data)


def drop(bag):
    (bag / METHODS).unlink()


def add(bag):
    (bag / "data" / "Notes on Ludmilla.txt").write_text("Ludmilla")


def forge(bag):
    """A changed file, and checksums that fit it."""
    change(bag)
    bagit.Bag(str(bag)).save(manifests=True)


def no_bag(bag):
    (bag / "bagit.txt").unlink()


BREAKS = {
    change: f"{METHODS} changed",
    same_length: f"{METHODS} changed",
    drop: f"{METHODS} is gone",
    add: "1 file came in, not of the bag",
    forge: "its list of checksums is not the one that it was made with",
    no_bag: "it can't be read as a bag",
}


@pytest.mark.parametrize("broken", BREAKS, ids=lambda b: b.__name__)
def test_a_bag_that_is_not_as_it_was_made_fails_the_audit(exported, say, broken):
    broken(bag_of(exported))
    assert audited(exported, say) == [f"exports/first: {BREAKS[broken]}"]
    assert not any("Ludmilla" in line for line in say.lines)


@pytest.mark.parametrize("broken", [change, same_length, drop, add, no_bag])
def test_the_package_alone_finds_the_same(exported, broken):
    """The reference: `bagit`, asked for yes or no, without a hand of ours in it."""
    assert problems(bag_of(exported)) == []
    broken(bag_of(exported))
    with pytest.raises(bagit.BagError):
        bagit.Bag(str(bag_of(exported))).validate(processes=1)
    assert problems(bag_of(exported))


def test_a_bag_that_was_moved_is_a_note_and_no_fault(exported, say):
    bag_of(exported).rename(exported.root / "exports" / "Ludmillas copy")
    assert audited(exported, say) == []
    assert "note: exports/first is not here any more" in say.lines
    assert "note: in exports/, not made by `export`: 1 thing" in say.lines


def test_an_update_that_died_before_it_got_there_is_told(exported, say):
    (made,) = Exports(exported).made()
    day = dt.date(2026, 4, 6)
    Exports(exported).add(made.model_copy(update={"day": day, "manifest_sha256": "ab" * 32}))
    assert audited(exported, say) == []
    told = "that of 2026-04-02: the update of 2026-04-06 did not get there; make it again"
    assert f"note: exports/first is {told}" in say.lines


ANSWERS = dict.fromkeys(("K07", "M12", "T05", "H22"), "yes 2026-01-02")


def test_status_names_exports_that_hold_who_took_the_consent_back(exported):
    quiet = status(exported, LATER)
    assert not any("exports/" in line for line in quiet)
    done_clinic.write_roster(exported, ANSWERS | {"M12": "yes 2026-01-02,no 2026-04-05"})
    told = [line for line in status(exported, LATER) if line not in quiet]
    assert told == [
        "consent does not hold any more; ask who has these exports to erase the person:",
        "  M12: exports/first",
    ]
    before = dt.datetime(2026, 4, 4, 12, tzinfo=dt.UTC)
    assert not any("exports/" in line for line in status(exported, before))


def test_who_left_is_named_also_when_the_bag_has_gone_or_was_updated_since(clinic):
    export(clinic, Wanted("first", "north"), DAY, lambda line: None)
    done_clinic.write_roster(clinic, ANSWERS | {"M12": "yes 2026-01-02,no 2026-04-05"})
    bag = export(clinic, Wanted("first", "north", update=True), LATER.date(), lambda line: None)
    assert "  M12: exports/first" in status(clinic, LATER)
    shutil.rmtree(bag)
    assert "  M12: exports/first" in status(clinic, LATER)


@pytest.mark.parametrize(
    ("roster", "told"),
    [
        (None, "roster.csv is missing: whose consent to earlier exports holds can't be told"),
        (
            "client,research_consent,date\nK07,perhaps,2026-01-20\n",
            "roster.csv, line 2: research_consent is 'perhaps'; allowed: yes, no",
        ),
        (
            "client,research_consent,date,name\nK07,yes,2026-01-20,J\udcf6rg\n",
            "roster.csv, line 2: this is not UTF-8 text; save the table as CSV UTF-8",
        ),
    ],
)
def test_a_roster_that_can_not_be_read_is_told_and_hides_nothing_else(exported, roster, told):
    path = exported.root / "roster.csv"
    path.unlink()
    if roster:
        path.write_bytes(roster.encode(errors="surrogateescape"))
    lines = status(exported, LATER)
    assert told in lines
    assert lines[0].startswith("last good night")


def test_a_clinic_without_exports_is_told_nothing_of_consent(template):
    assert describe(Clinic(template), DAY) == ["no export was made yet"]
    assert not any("consent" in line for line in status(Clinic(template), LATER))
