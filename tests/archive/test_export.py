"""The export as a whole: who is in it, whole or not at all, again, and for whom."""

import dataclasses
import datetime as dt
import json
import os
import shutil
import signal
import subprocess
import sys

import done_clinic
import pytest
from done_clinic import DAY, WOMAN, One, write_partner, write_roster

from aftersit.archive.export import Wanted, export
from aftersit.archive.ids import partner_table, read_pseudonyms
from aftersit.archive.register import Exports, describe
from aftersit.archive.scrub import Scrub
from aftersit.bids.tables import read_tsv
from aftersit.errors import AftersitError
from aftersit.night.contents import contents
from aftersit.night.erase import erase, exports_with
from aftersit.night.ledger import Ledger
from aftersit.night.plan import planned

FIRST = Wanted("first", "north")
AGAIN = Wanted("first", "north", update=True)
ALL = ("K07", "M12", "T05", "H22")


def quiet(line):
    pass


def rows(bag, name):
    return read_tsv((bag / "data" / "bids" / name).read_text())


def people(bag):
    return {row["participant_id"].removeprefix("sub-") for row in rows(bag, "participants.tsv")}


def ids(clinic, partner="north"):
    return {c: p.research_id for c, p in read_pseudonyms(clinic, partner).items()}


def test_every_sitting_is_there_once_under_research_ids(made, bag):
    assert people(bag) == set(ids(made).values())
    found = {p.name for p in bag.rglob("*_task-sitting_eeg.vhdr")}
    assert len(found) == 5
    assert {p.name.split("_")[0] for p in bag.rglob("sub-*_eeg.vhdr")} == {
        f"sub-{one}" for one in ids(made).values()
    }


def test_without_consent_nobody_is_in_it_and_the_clinic_is_told_why(clinic, say):
    answers = dict.fromkeys(ALL, "yes 2026-01-02")
    write_roster(clinic, answers | {"M12": "no 2026-01-02", "T05": "yes 2026-01-02,no 2026-03-30"})
    bag = export(clinic, FIRST, DAY, say)
    assert people(bag) == {ids(clinic)["K07"], ids(clinic)["H22"]}
    assert "  not M12/01: the roster has no consent to research for this client" in say.lines
    assert "  not T05/01: the client took the consent to research back" in say.lines
    listed = (clinic.state / "exports" / "first.left-out.csv").read_text()
    assert listed == ("client,sitting,reason\nM12,M12/01,never-given\nT05,T05/01,taken-back\n")


def test_the_clinic_is_told_which_of_its_own_names_travel(clinic, say):
    """A person's name in a protocol's name looks like any word; a person of the clinic knows."""
    export(clinic, FIRST, DAY, say)
    (line,) = (line for line in say.lines if line.startswith("names of yours"))
    travelling = line.partition("somebody is: ")[2].split(", ")
    assert "warm-attention" in travelling
    data = clinic.root / "exports" / "first" / "data"
    for path in (data / "measures" / "protocols").glob("*.json"):
        told = json.loads(path.read_text())
        assert {told["name"], *(c["name"] for c in told["conditions"])} <= set(travelling)


@pytest.mark.slow
def test_a_sitting_that_is_not_for_research_stays_behind(clinic, say, results):
    done_clinic.add_uploads(
        clinic, [One("K07", "2026-03-27", {**WOMAN, "not_for_research": True})], 7
    )
    done_clinic.receive(clinic)
    done_clinic.finish(clinic, results)
    bag = export(clinic, FIRST, DAY, say)
    assert [r["session_id"] for r in rows(bag, sessions(clinic))] == ["ses-01", "ses-02"]
    assert "  not K07/03: its sheet says not_for_research" in say.lines


@pytest.mark.slow
def test_a_sitting_taken_from_research_later_is_named_with_its_exports(clinic):
    export(clinic, FIRST, DAY, quiet)
    assert not any("T05" in line for line in describe(clinic, DAY))
    path = clinic.root / planned(Ledger(clinic).entries()[-1]).original / "sitting.yaml"
    path.chmod(0o600)
    path.write_text(path.read_text() + "\nnot_for_research: true\n")
    told = describe(clinic, DAY)
    assert told[-2].startswith("sheets say not_for_research by now")
    assert told[-1] == "  T05/01: exports/first"
    roster = clinic.root / "roster.csv"
    roster.write_text(roster.read_text() + "k07,no,2026-03-01\n")
    assert "roster.csv writes k07 for K07; correct it" in describe(clinic, DAY)
    with pytest.raises(AftersitError, match=r"roster\.csv writes k07 for K07"):
        export(clinic, AGAIN, DAY, quiet)


def sessions(clinic, client="K07"):
    return f"sub-{ids(clinic)[client]}/sub-{ids(clinic)[client]}_sessions.tsv"


@pytest.mark.slow
def test_an_unfinished_sitting_stays_behind(clinic, say):
    ledger = Ledger(clinic)
    entry = ledger.entries()[0]
    ledger.write(entry.model_copy(update={"finished": None}))
    export(clinic, FIRST, DAY, say)
    assert f"  not {entry.sitting}: it is not finished; run `nightly` first" in say.lines


@pytest.mark.slow
def test_consent_taken_back_leaves_later_exports_and_names_earlier_ones(clinic, say):
    export(clinic, FIRST, DAY, quiet)
    gone = ids(clinic)["M12"]
    answers = dict.fromkeys(ALL, "yes 2026-01-02")
    write_roster(clinic, answers | {"M12": "yes 2026-01-02,no 2026-04-05"})
    later = dt.date(2026, 4, 6)
    bag = export(clinic, Wanted("second", "north"), later, say)
    assert gone not in people(bag)
    assert "  M12: exports/first" in say.lines
    assert "  M12: exports/first" in describe(clinic, later)
    assert not any("M12" in line for line in describe(clinic, DAY))


@pytest.mark.slow
def test_two_partners_get_other_ids_and_other_shifts(clinic):
    write_partner(clinic, "south", dates="shifted", agreement="Use of data, of May")
    write_partner(clinic, "north", dates="shifted", agreement="Use of data, of June")
    bags = [export(clinic, Wanted(f"for-{n}", n), DAY, quiet) for n in ("north", "south")]
    assert people(bags[0]).isdisjoint(people(bags[1]))
    starts = [{r["acq_time"] for r in all_scans(bag)} for bag in bags]
    assert starts[0].isdisjoint(starts[1])


@pytest.mark.slow
def test_a_lost_table_stops_exports_to_a_partner_who_knows_its_ids(clinic):
    export(clinic, FIRST, DAY, quiet)
    partner_table(clinic, "north").unlink()
    with pytest.raises(AftersitError, match=r"partners/north\.csv is missing.*from a backup"):
        export(clinic, Wanted("second", "north"), DAY, quiet)


def test_a_bag_gives_the_year_in_which_it_was_made_and_no_day(bag):
    """Else two bags would put a sitting that only the later one has between two days."""
    for path in (p for p in bag.rglob("*") if p.is_file()):
        data = path.read_bytes()
        for day in (DAY, dt.date.today()):
            assert day.isoformat().encode() not in data, path.name
            assert day.strftime("%Y%m%d").encode() not in data, path.name
    crate = json.loads((bag / "data" / "ro-crate-metadata.json").read_text())["@graph"]
    assert [e["datePublished"] for e in crate if "datePublished" in e] == ["2026"]
    assert "date-released" not in (bag / "data" / "bids" / "CITATION.cff").read_text()
    assert "Bagging-Date" not in (bag / "bag-info.txt").read_text()


@pytest.mark.slow
def test_a_day_that_the_clinic_sets_is_given(clinic):
    write_partner(clinic, "north", published="2026-05-11")
    bag = export(clinic, FIRST, DAY, quiet)
    assert "Bagging-Date: 2026-05-11" in (bag / "bag-info.txt").read_text()
    assert "2026-05-11" in (bag / "data" / "bids" / "CITATION.cff").read_text()
    assert '"datePublished": "2026-05-11"' in (bag / "data/ro-crate-metadata.json").read_text()
    assert "The bag gives 2026-05-11 as its own day" in (bag / "data" / "README.md").read_text()


def all_scans(bag):
    return [
        row
        for path in sorted((bag / "data" / "bids").rglob("*_scans.tsv"))
        for row in read_tsv(path.read_text())
    ]


def test_without_dates_there_are_day_numbers_alone(made, bag):
    assert all(set(row) == {"filename"} for row in all_scans(bag))
    # 14 to 24 March 2026: ten days later is day 11.
    assert [r["day"] for r in rows(bag, sessions(made))] == ["1", "11"]


@pytest.mark.slow
def test_shifted_dates_keep_intervals_and_the_hour(clinic):
    write_partner(clinic, "north", dates="shifted", agreement="Use of data, of May")
    export(clinic, FIRST, DAY, quiet)
    own = ids(clinic)["K07"]
    bag = clinic.root / "exports" / "first"
    found = [
        dt.datetime.fromisoformat(row["acq_time"])
        for row in all_scans(bag)
        if own in row["filename"]
    ]
    assert found[1] - found[0] == dt.timedelta(days=10)
    assert all(1902 <= one.year <= 1925 for one in found)  # BIDS 1.11.1
    assert {one.time() for one in found} == {dt.time(17)}  # 17:05:09 in the upload


def test_shifted_dates_need_an_agreement(clinic):
    write_partner(clinic, "north", dates="shifted")
    with pytest.raises(AftersitError, match="needs `agreement`, since a shifted date is a date"):
        export(clinic, FIRST, DAY, quiet)


def test_small_groups_refuse_unless_somebody_answers_for_them(clinic, say):
    write_partner(clinic, "north", k=5)
    with pytest.raises(AftersitError, match=r"4 of 40-49, female, right, loving-kindness"):
        export(clinic, FIRST, DAY, say)
    assert not (clinic.root / "exports").exists()
    allowed = dataclasses.replace(FIRST, small_groups_allowed_by="DR2")
    bag = export(clinic, allowed, DAY, say)
    assert Exports(clinic).made()[-1].small_groups_allowed_by == "DR2"
    text = (bag / "data" / "README.md").read_text()
    assert "Fewer than 5 people are alike" in text
    assert "the smallest has 4" in text
    assert not any(b"DR2" in p.read_bytes() for p in bag.rglob("*") if p.is_file())


@pytest.mark.slow
def test_groups_are_small_also_when_joined_with_an_earlier_bag(clinic):
    """A bag of four alike, then one of whom the first bag told another practice."""
    export(clinic, FIRST, DAY, quiet)
    (line,) = Exports(clinic).path.read_text().splitlines()
    made = json.loads(line)
    assert {p["research_id"] for p in made["told"]} == set(ids(clinic).values())
    for one in made["told"]:
        if one["research_id"] == ids(clinic)["K07"]:
            one["practices"] = ["quiet-rest"]
    Exports(clinic).path.write_text(json.dumps(made) + "\n")
    with pytest.raises(
        AftersitError, match="1 of 40-49, female, right, loving-kindness and quiet-rest"
    ):
        export(clinic, Wanted("second", "north"), DAY, quiet)


@pytest.mark.slow
def test_a_trait_that_is_left_out_makes_people_alike(clinic, results):
    man = One("Q88", "2026-03-29", {**WOMAN, "sex": "male"})
    done_clinic.add_uploads(clinic, [man], 8)
    done_clinic.receive(clinic)
    done_clinic.finish(clinic, results)
    write_roster(clinic, dict.fromkeys((*ALL, "Q88"), "yes 2026-01-02"))
    with pytest.raises(AftersitError, match="1 of 40-49, male, right, loving-kindness"):
        export(clinic, FIRST, DAY, quiet)
    write_partner(clinic, "north", without=["sex"])
    bag = export(clinic, FIRST, DAY, quiet)
    assert {row["sex"] for row in rows(bag, "participants.tsv")} == {"n/a"}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("where", "told"),
    [
        (
            "practice=compasion",
            "--where practice=compasion: there is no practice 'compasion'; did you mean 'compass",
        ),
        (
            "client=K07,ZZZ9",
            "--where client=ZZZ9: there is no client 'ZZZ9'; there are: H22, K07, M12, T05",
        ),
        ("settings=s8", "--where settings=s8: there is no settings 's8'; there are: s1"),
        ("practice=compassion", "no sitting is as --where asks"),
    ],
)
def test_a_value_that_there_is_none_of_is_told_with_those_there_are(clinic, where, told):
    with pytest.raises(AftersitError) as caught:
        export(clinic, dataclasses.replace(FIRST, where=(where,)), DAY, quiet)
    assert told in str(caught.value)


def test_where_chooses(clinic):
    bag = export(clinic, Wanted("some", "north", ("client=K07,M12",)), DAY, quiet)
    assert people(bag) == {ids(clinic)["K07"], ids(clinic)["M12"]}
    with pytest.raises(AftersitError, match="keys: client, practice, protocol, settings"):
        export(clinic, Wanted("more", "north", ("clients=K07",)), DAY, quiet)


@pytest.mark.slow
def test_the_same_inputs_give_the_same_bytes(clinic, made, bag):
    shutil.copytree(made.state / "..", clinic.root, dirs_exist_ok=True)
    other = export(clinic, Wanted("other", "north"), DAY, quiet)
    assert contents(other) == contents(bag)


@pytest.mark.slow
def test_an_update_adds_sittings_and_changes_no_id(clinic, results):
    export(clinic, FIRST, DAY, quiet)
    before = ids(clinic)
    old = contents(clinic.root / "exports" / "first" / "data" / "bids")
    done_clinic.add_uploads(
        clinic, [One("K07", "2026-04-04", WOMAN), One("A11", "2026-04-04", WOMAN)], 9
    )
    done_clinic.receive(clinic)
    done_clinic.finish(clinic, results)
    write_roster(clinic, dict.fromkeys((*ALL, "A11"), "yes 2026-01-02"))
    bag = export(clinic, AGAIN, dt.date(2026, 4, 6), quiet)
    assert before.items() <= ids(clinic).items()
    assert [r["day"] for r in rows(bag, sessions(clinic))] == ["1", "11", "22"]
    new = contents(bag / "data" / "bids")
    signals = [name for name in old if name.endswith((".eeg", "_channels.tsv", "_events.tsv"))]
    assert signals
    assert all(new[name] == old[name] for name in signals)
    assert {p.name for p in (clinic.root / "exports").iterdir()} == {"first"}


@pytest.mark.slow
def test_an_export_is_not_written_over_by_accident(clinic):
    export(clinic, FIRST, DAY, quiet)
    with pytest.raises(AftersitError, match="is there already; add --update"):
        export(clinic, FIRST, DAY, quiet)
    with pytest.raises(AftersitError, match=r"other is not there; leave --update out"):
        export(clinic, Wanted("other", "north", update=True), DAY, quiet)
    write_partner(clinic, "south")
    with pytest.raises(AftersitError, match="was made for north, not for south"):
        export(clinic, Wanted("first", "south", update=True), DAY, quiet)


@pytest.mark.slow
def test_a_refused_update_leaves_the_bag_before_it(clinic):
    bag = export(clinic, FIRST, DAY, quiet)
    before = contents(bag)
    for path in clinic.bids.rglob("*_eeg.json"):
        path.write_text(json.dumps(json.loads(path.read_text()) | {"Note": "Philippa"}))
    with pytest.raises(AftersitError, match="the export was removed"):
        export(clinic, AGAIN, DAY, quiet, Scrub(frozenset({"sidecar-keys"})))
    assert contents(bag) == before
    assert not list((clinic.state / "export-writing").iterdir())


KILLED = """
import datetime as dt, os, signal, sys
from pathlib import Path
from aftersit.archive import export as made
from aftersit.clinic import Clinic

def dies(name):
    def dying(*arguments, **options):
        if dies.after == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        dies.after -= 1
        return real(*arguments, **options)
    real = getattr(made, name)
    setattr(made, name, dying)

dies.after = 0
dies(sys.argv[2])
wanted = made.Wanted("first", "north", update=sys.argv[3] == "update")
made.export(Clinic(Path(sys.argv[1])), wanted, dt.date(2026, 4, 6), print)
"""


@pytest.mark.slow
@pytest.mark.parametrize("where", ["make_bag", "_check_scan", "put_in_place"])
@pytest.mark.parametrize("how", ["new", "update"])
def test_a_killed_export_leaves_the_old_bag_or_none(clinic, where, how):
    before = None
    if how == "update":
        before = contents(export(clinic, FIRST, DAY, quiet))
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(clinic.root), where, how], check=False, cwd="/"
    )
    assert done.returncode == -signal.SIGKILL
    bag = clinic.root / "exports" / "first"
    assert (contents(bag) if bag.exists() else None) == before
    assert export(clinic, AGAIN if how == "update" else FIRST, DAY, quiet) == bag
    assert not list((clinic.state / "export-writing").iterdir())
    assert os.listdir(clinic.root / "exports") == ["first"]


@pytest.mark.slow
def test_erasing_a_client_names_exports_also_when_the_bag_has_gone(clinic):
    bag = export(clinic, FIRST, DAY, quiet)
    shutil.rmtree(bag)
    assert exports_with(clinic, "K07") == ["first"]
    told = erase(clinic, "K07", DAY)
    assert "  exports/first" in told
    left = Exports(clinic).path.read_text()
    assert "K07" not in left
    assert "K07" not in (clinic.root / "partners" / "north.csv").read_text()
