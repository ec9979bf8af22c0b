"""Whose data may leave: the roster on the day of the export."""

import datetime as dt

import done_clinic
import pytest
import yaml

from aftersit.archive.consent import Roster, Row, check_codes, read_roster
from aftersit.cli import main
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError

DAY = dt.date(2026, 4, 2)


def answer(*rows, day=DAY, client="K07"):
    made = [Row("K07", agrees, dt.date.fromisoformat(date)) for agrees, date in rows]
    return Roster(tuple(made)).answer(client, day)


CASES = {
    "no row": ((), "never-given"),
    "a yes": (((True, "2026-01-20"),), "given"),
    "a yes of the day itself": (((True, "2026-04-02"),), "given"),
    "a yes of tomorrow": (((True, "2026-04-03"),), "never-given"),
    "a no": (((False, "2026-01-20"),), "never-given"),
    "taken back": (((True, "2026-01-20"), (False, "2026-03-01")), "taken-back"),
    "taken back in an earlier line": (((False, "2026-03-01"), (True, "2026-01-20")), "taken-back"),
    "taken back tomorrow": (((True, "2026-01-20"), (False, "2026-04-03")), "given"),
    "given again": (
        ((True, "2026-01-20"), (False, "2026-02-01"), (True, "2026-03-05")),
        "given",
    ),
    "both on one day": (((True, "2026-03-05"), (False, "2026-03-05")), "taken-back"),
}


@pytest.mark.parametrize("case", CASES)
def test_the_last_answer_up_to_the_day_counts(case):
    # Rule: the issue's own, consent on the day of the export; a doubt counts as a no.
    rows, expected = CASES[case]
    assert answer(*rows) == expected


def test_a_client_without_a_row_gave_no_consent():
    assert answer((True, "2026-01-20"), client="K70") == "never-given"


def test_a_roster_is_read_with_further_columns(tmp_path):
    text = "client,name,research_consent,date\nK07,Orla,Yes,2026-01-20\n"
    (tmp_path / "roster.csv").write_text(text)
    assert read_roster(Clinic(tmp_path)).answer("K07", DAY) == "given"


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("K07,perhaps,2026-01-20", "line 2: research_consent is 'perhaps'; allowed: yes, no"),
        ("K07,yes,20.1.2026", "line 2: date is '20.1.2026'; a date is written YYYY-MM-DD"),
    ],
)
def test_a_bad_row_is_told_with_its_line(tmp_path, row, told):
    (tmp_path / "roster.csv").write_text(f"client,research_consent,date\n{row}\n")
    with pytest.raises(AftersitError, match=told.replace("?", r"\?")):
        read_roster(Clinic(tmp_path))


HEAD = "client,research_consent,date"
TABLES = {
    "Latin-1": (
        f"{HEAD},name\nM12,no,2026-01-02,Ann\nK07,yes,2026-01-20,Jörg\n".encode("latin-1"),
        "roster.csv, line 3: this is not UTF-8 text; save the table as CSV UTF-8",
    ),
    "UTF-16": (
        f"{HEAD}\nK07,yes,2026-01-20\n".encode("utf-16"),
        "roster.csv, line 1: this is not UTF-8 text; save the table as CSV UTF-8",
    ),
    "semicolons": (
        b"client;research_consent;date\nK07;yes;2026-01-20\n",
        "roster.csv: its columns are parted by semicolons; save it with commas between them",
    ),
    "tabs": (
        b"client\tresearch_consent\tdate\nK07\tyes\t2026-01-20\n",
        "roster.csv: its columns are parted by tabs; save it with commas between them",
    ),
    "no head": (
        b"K07,yes,2026-01-20\n",
        "roster.csv has no column client, research_consent, date; "
        "its first line must name the columns",
    ),
    "a misspelt column": (
        b"client,consent,date\nK07,yes,2026-01-20\n",
        "roster.csv has no column research_consent; its first line must name the columns",
    ),
    "a cell without an end": (
        HEAD.encode() + b"\nK07,yes," + b"7" * 140_000 + b"\n",
        "roster.csv can't be read as a table in CSV (field larger than field limit (131072))",
    ),
}


@pytest.mark.parametrize("case", TABLES)
def test_a_roster_that_is_no_table_in_csv_is_told_in_words(tmp_path, case):
    """CSV as in RFC 4180; what spreadsheets save otherwise is from memory."""
    data, told = TABLES[case]
    (tmp_path / "roster.csv").write_bytes(data)
    with pytest.raises(AftersitError) as caught:
        read_roster(Clinic(tmp_path))
    assert str(caught.value) == told


def test_a_roster_with_blanks_around_names_and_a_byte_order_mark_is_read(tmp_path):
    text = "client, research_consent ,date\r\nK07, yes ,2026-01-20\r\n"
    (tmp_path / "roster.csv").write_bytes(text.encode("utf-8-sig"))
    assert read_roster(Clinic(tmp_path)).answer("K07", DAY) == "given"


def test_a_code_in_another_case_is_refused_and_strange_rows_are_counted():
    rows = [Row(code, True, DAY) for code in ("K07", "M12", "Z99", "Y41", "Z99")]
    assert check_codes(Roster(tuple(rows)), ["K07", "M12"]) == 3
    no = Row("k07", False, DAY)
    with pytest.raises(AftersitError, match=r"roster\.csv writes k07 for K07.*can't be told"):
        check_codes(Roster((*rows, no)), ["K07", "M12"])


def test_the_day_is_that_of_the_clinics_zone(tmp_path, monkeypatch):
    """Between UTC+14 and UTC-12 lie 26 hours: the day differs at every moment."""
    days = []
    monkeypatch.setattr(
        "aftersit.archive.register.describe", lambda clinic, day: days.append(day) or ["told"]
    )
    for zone in ("Pacific/Kiritimati", "Etc/GMT+12"):
        clinic = Clinic(tmp_path)
        given = done_clinic.CLINIC | {"time_zone": zone}
        clinic.settings_file.write_text(yaml.safe_dump(given))
        assert main(["exports", "--clinic", str(tmp_path)]) == 0
    assert days[0] > days[1]


def test_no_roster_is_no_consent(tmp_path):
    with pytest.raises(AftersitError, match=r"roster\.csv is missing: without it nobody"):
        read_roster(Clinic(tmp_path))
