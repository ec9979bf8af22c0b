"""Research ids, shifted dates, day numbers, age groups and small groups."""

import csv
import datetime as dt
import random
import re
import stat
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr

from aftersit.archive.dates import day_number, shifted
from aftersit.archive.groups import Person, age_group, joined, small_groups
from aftersit.archive.ids import give_pseudonyms, partner_table, read_pseudonyms
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError

FIRSTS = {f"K{n:02d}": dt.date(2024, 1, 1) + dt.timedelta(days=37 * n) for n in range(60)}


def test_ids_are_stable_for_a_partner_and_other_for_another(tmp_path):
    clinic = Clinic(tmp_path)
    draw = random.Random(31)
    north, south = (give_pseudonyms(clinic, name, FIRSTS, draw) for name in ("north", "south"))
    again = give_pseudonyms(clinic, "north", FIRSTS)
    assert again == north
    assert {p.research_id for p in north.values()}.isdisjoint(p.research_id for p in south.values())
    assert all(north[c].shift_days != south[c].shift_days for c in FIRSTS)


def test_an_erased_id_never_comes_back_not_even_for_the_same_code(tmp_path):
    clinic = Clinic(tmp_path)
    before = give_pseudonyms(clinic, "north", FIRSTS, random.Random(7))
    path = partner_table(clinic, "north")
    path.write_text(re.sub(r"(?m)^K07,.*\n", "", path.read_text()))
    after = give_pseudonyms(clinic, "north", FIRSTS, random.Random(19))
    assert after["K07"].research_id not in {p.research_id for p in before.values()}
    assert after["K07"].shift_days != before["K07"].shift_days
    assert {c: p for c, p in after.items() if c != "K07"} == (
        {c: p for c, p in before.items() if c != "K07"}
    )


def test_nothing_but_the_draw_leads_to_an_id(tmp_path):
    """The same draw gives the same ids in another clinic and for other codes."""
    drawn = []
    for name, code in (("one", "K31"), ("two", "Z9")):
        given = {code: FIRSTS["K31"]}
        made = give_pseudonyms(Clinic(tmp_path / name), "north", given, random.Random(41))
        drawn += made.values()
    assert drawn[0] == drawn[1]


def test_another_clinic_gives_other_ids(tmp_path):
    one, two = (give_pseudonyms(Clinic(tmp_path / n), "north", FIRSTS) for n in ("one", "two"))
    assert {p.research_id for p in one.values()}.isdisjoint(p.research_id for p in two.values())


def test_the_order_of_ids_tells_nothing_of_the_order_of_codes(tmp_path):
    """Spearman's rank correlation of 60 pairs stays below 0.42 in 999 of 1000 cases (t approx.)."""
    found = give_pseudonyms(Clinic(tmp_path), "north", FIRSTS, random.Random(23))
    ids = [found[c].research_id for c in sorted(FIRSTS)]
    assert abs(spearmanr(range(60), [sorted(ids).index(i) for i in ids])[0]) < 0.42


def test_the_table_is_for_its_owner_only(tmp_path):
    clinic = Clinic(tmp_path)
    give_pseudonyms(clinic, "north", FIRSTS)
    mode = partner_table(clinic, "north").stat().st_mode
    assert stat.S_IMODE(mode) == 0o600  # DEI-4 in the published facts


def test_a_damaged_table_is_told_and_not_written_over(tmp_path):
    clinic = Clinic(tmp_path)
    give_pseudonyms(clinic, "north", FIRSTS)
    path = partner_table(clinic, "north")
    path.write_text(path.read_text().replace("shift_days", "shift"))
    with pytest.raises(AftersitError, match="put it back from a backup"):
        give_pseudonyms(clinic, "north", {"Z9": dt.date(2026, 5, 5)})


def test_ids_fit_bids_and_hold_no_vowels(tmp_path):
    # BIDS labels: letters and digits only (BIDS 1.11.1, common principles).
    for p in give_pseudonyms(Clinic(tmp_path), "north", FIRSTS).values():
        assert p.research_id.isalnum()
        assert p.research_id.isascii()
        assert not set(p.research_id) & set("AEIOUYL01")


@given(st.dates(dt.date(1990, 1, 1), dt.date(2090, 1, 1)), st.integers(0, 3000))
def test_shifted_dates_keep_days_between_and_lie_where_bids_and_mne_read_them(first, later):
    # BIDS 1.11.1: shifted dates in 1925 or earlier; mne: none before 1901-12-13 (32-bit seconds).
    with tempfile.TemporaryDirectory() as folder:
        shift = give_pseudonyms(Clinic(Path(folder)), "n", {"K07": first})["K07"].shift_days
    start = dt.datetime.combine(first, dt.time(17, 5, 9))
    one, two = shifted(start, shift), shifted(start + dt.timedelta(days=later), shift)
    assert two - one == dt.timedelta(days=later)
    assert dt.date(1901, 12, 13) < one.date() <= two.date() < dt.date(1926, 1, 1)
    assert (one.hour, one.minute, one.second) == (17, 0, 0)


def test_a_date_that_would_leave_the_years_is_refused():
    assert shifted(dt.datetime(2026, 3, 14), -36_500) is None  # 1926


def test_days_are_counted_from_the_first_sitting():
    first = dt.date(2026, 2, 27)
    found = [day_number(first + dt.timedelta(days=n), first) for n in (0, 2, 15, -3)]
    assert found == [1, 3, 16, -2]


@pytest.mark.parametrize(
    ("age", "group"),
    [("17", "0-17"), ("18", "18-29"), ("29", "18-29"), ("30", "30-39"), ("41", "40-49")]
    # BIDS caps at 89 and HIPAA at 90 (BIDS 1.11.1; 45 CFR 164.514(b)(2)): all lie in one group.
    + [(age, "80+") for age in ("80", "88", "89", "90", "102")]
    + [("n/a", "n/a")],
)
def test_ages_stand_in_groups(age, group):
    assert age_group(age) == group


def person(number, *traits, practices=("compassion",)):
    return Person(f"R{number}", *traits, practices)


def test_groups_are_counted_over_all_traits_at_once():
    """Five women and five men by age and hand, worked out by hand: two are like nobody else."""
    people = [person(n, "40-49", "female", "right") for n in range(5)]
    people += [person(n, "40-49", "male", "right") for n in range(5, 8)]
    people += [person(8, "40-49", "male", "left")]
    people += [person(9, "40-49", "male", "right", practices=("compassion", "quiet-rest"))]
    assert small_groups(people, 3) == [
        (("40-49", "male", "left", "compassion"), 1),
        (("40-49", "male", "right", "compassion and quiet-rest"), 1),
    ]
    assert len(small_groups(people, 4)) == 3
    assert small_groups(people[:5], 5) == []


def test_bags_of_one_partner_are_counted_together():
    """Two bags of five alike, one person in both: joined by id that person is like nobody."""
    traits = ("40-49", "female", "right")
    one = [person(n, *traits) for n in range(5)]
    two = [person(n, *traits, practices=("quiet-rest",)) for n in range(4, 9)]
    assert small_groups(one, 5) == small_groups(two, 5) == []
    assert small_groups(joined([*one, *two]), 5) == [
        ((*traits, "compassion"), 4),
        ((*traits, "compassion and quiet-rest"), 1),
        ((*traits, "quiet-rest"), 4),
    ]


def test_what_was_told_once_stays_known():
    told = [person(3, "40-49", "female", "n/a"), person(3, "50-59", "n/a", "n/a")]
    assert joined(told) == [person(3, "40-49 and 50-59", "female", "n/a")]


def test_a_table_reads_back(tmp_path):
    clinic = Clinic(tmp_path)
    found = give_pseudonyms(clinic, "north", FIRSTS)
    assert read_pseudonyms(clinic, "north") == found
    rows = list(csv.DictReader(partner_table(clinic, "north").read_text().splitlines()))
    assert {r["client"] for r in rows} == set(FIRSTS)
