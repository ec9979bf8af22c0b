"""Who is in the bag: one row for each person, and one for each sitting."""

import datetime as dt
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

from aftersit.archive import scrub
from aftersit.archive.choose import Chosen
from aftersit.archive.dates import day_number, shifted
from aftersit.archive.dictionaries import dictionary
from aftersit.archive.groups import Person, age_group
from aftersit.archive.ids import Pseudonym
from aftersit.archive.partner import Partner
from aftersit.archive.place import RAW, Going
from aftersit.bids.tables import MISSING, read_tsv, tsv
from aftersit.clinic import Clinic
from aftersit.night import layout
from aftersit.night.ledger import Ledger

_TRAITS = {
    "age": scrub.NUMBER,
    "sex": scrub.words("female", "male", "other"),
    "handedness": scrub.words("left", "right", "ambidextrous"),
}


def people(
    clinic: Clinic,
    chosen: Sequence[Chosen],
    pseudonyms: dict[str, Pseudonym],
    partner: Partner,
) -> list[Person]:
    """One for each client of these sittings, by research id."""
    rows = {row["participant_id"]: row for row in _participants(clinic)}
    found = []
    for client, group in groupby(chosen, lambda one: one.entry.client):
        traits = _traits(rows.get(f"sub-{client}", dict.fromkeys(_TRAITS, MISSING)), partner)
        practices = tuple(sorted({one.practice for one in group}))
        found.append(Person(pseudonyms[client].research_id, *traits, practices))
    return sorted(found, key=lambda person: person.research_id)


def _participants(clinic: Clinic) -> list[dict[str, str]]:
    path = clinic.bids / "participants.tsv"
    return read_tsv(path.read_text()) if path.is_file() else []


def _traits(row: dict[str, str], partner: Partner) -> tuple[str, str, str]:
    kept = {
        name: row[name] if allowed.fullmatch(row.get(name, MISSING)) else MISSING
        for name, allowed in _TRAITS.items()
    } | dict.fromkeys(partner.without, MISSING)
    return age_group(kept["age"]), kept["sex"], kept["handedness"]


def participants_tsv(people: Sequence[Person]) -> str:
    """`participants.tsv`."""
    rows = ([f"sub-{p.research_id}", p.age_group, p.sex, p.handedness] for p in people)
    return tsv(list(dictionary("participants")), rows)


def first_days(clinic: Clinic) -> dict[str, dt.date]:
    """Client -> day of the sitting that came first, exported or not."""
    found: dict[str, dt.date] = {}
    for entry in Ledger(clinic).entries():
        found.setdefault(entry.client, entry.date)
    return found


def write_sessions(going: Sequence[Going], firsts: dict[str, dt.date], partner: Partner) -> None:
    """The sessions table of one person, and the scans table of each sitting."""
    rows = [
        [
            f"ses-{one.session}",
            day_number(one.chosen.entry.date, firsts[one.chosen.entry.client]),
            one.chosen.practice,
        ]
        for one in going
    ]
    folder = going[0].payload / RAW / f"sub-{going[0].subject}"
    text = tsv(list(dictionary("sessions")), rows)
    (folder / f"sub-{going[0].subject}_sessions.tsv").write_text(text)
    for one in going:
        _write_scans(one, folder / f"ses-{one.session}", partner)


def _write_scans(one: Going, folder: Path, partner: Partner) -> None:
    start = start_of(one.clinic, one.chosen)
    cells = [f"eeg/{one.stem}_eeg.vhdr"]
    if not one.scrub.does("scans-dates"):
        cells.append(start.isoformat())
    elif partner.dates == "shifted":
        cells.append(shifted(start, one.pseudonym.shift_days).isoformat())
    columns = list(dictionary("scans-shifted"))[: len(cells)]
    (folder / f"{one.short_stem}_scans.tsv").write_text(tsv(columns, [cells]))


def start_of(clinic: Clinic, chosen: Chosen) -> dt.datetime:
    """Local start of a recording as the clinic's own scans table has it."""
    folder = chosen.path(clinic, layout.RAW, "_eeg.vhdr").parents[1]
    (path,) = folder.glob("*_scans.tsv")
    (row,) = read_tsv(path.read_text())
    time = dt.datetime.fromisoformat(row["acq_time"]).time()
    return dt.datetime.combine(chosen.entry.date, time)
