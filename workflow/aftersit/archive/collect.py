"""Gather all that must not leave a clinic: from rosters, sheets, headers, file names, machines."""

import contextlib
import datetime as dt
import getpass
import json
import socket
from collections.abc import Container, Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

from aftersit.archive.consent import roster_path
from aftersit.archive.folding import tokens
from aftersit.archive.headers import annotation_texts, header_items, start_of
from aftersit.archive.ids import all_research_ids
from aftersit.archive.partner import Partner
from aftersit.archive.secrets import Secrets
from aftersit.clinic import Clinic, ClinicSettings
from aftersit.errors import AftersitError
from aftersit.head.region_set import read_regions
from aftersit.intake.problems import UploadError
from aftersit.intake.upload_files import SHEET_NAME, find_files
from aftersit.night.ledger import Ledger
from aftersit.people_table import read_rows
from aftersit.plain_yaml import load_plain_yaml
from aftersit.protocol import Protocol

_COMMON = {"root", "user", "admin", "localhost", "home", "tmp", "work", "usr", "opt", "srv", "var"}
_NO_NOTES = {"kind", "start", "end", "eyes", "practice", "protocol", "sex", "handedness", "blocks"}


def secrets_of(clinic: Clinic, partner: Partner, ids: set[str]) -> Secrets:
    """Everything that the scan of a bag looks for.

    Parameters
    ----------
    clinic : Clinic
    partner : Partner
        Its texts may stand in the bag, and the day that it sets where a bag tells its own.
    ids : set of str
        Research ids that may stand there.
    """
    settings = clinic.read_settings()
    printed = frozenset(w for text in _printed(partner) for w in tokens(text))
    allowed = printed | frozenset(w for text in clinic_names(clinic) for w in tokens(text))
    day = partner.published.isoformat() if partner.published else ""
    found = Secrets(allowed=allowed, printed=printed, ids=frozenset(ids), published=day)
    _add_codes(clinic, found, ids)
    _add_clinic(clinic, settings, found)
    _add_machine(clinic, found)
    for path in sorted(clinic.kept_protocols.glob("*/v*.yaml")):
        protocol = Protocol.from_yaml(path)
        for text in (protocol.title, protocol.purpose):
            found.add_note(text, "a sentence of a protocol")
    for folder in _uploads(clinic):
        _add_upload(folder, settings, found)
    if partner.dates == "shifted":
        # Such a bag tells the hour; of recordings that began on the hour that is all.
        found.times = {time for time in found.times if time.minute or time.second}
    return found


def _printed(partner: Partner) -> list[str]:
    texts = [partner.title, partner.licence, partner.licence_text, partner.agreement or ""]
    return [*texts, *partner.authors]


def clinic_names(clinic: Clinic, protocols: Container[str] | None = None) -> Iterator[str]:
    """Names of protocols, conditions and unions: the clinic's, and meant to be read.

    Parameters
    ----------
    clinic : Clinic
    protocols : container of str, optional
        Only these protocols; all that were ever used unless given.
    """
    for path in sorted(clinic.kept_protocols.glob("*/v*.yaml")):
        protocol = Protocol.from_yaml(path)
        if protocols is None or protocol.name in protocols:
            yield protocol.name
            yield from (condition.name for condition in protocol.conditions)
    own = clinic.root / "regions.yaml"
    if own.is_file():
        yield from (name for name, _ in read_regions(own).unions)


def _add_codes(clinic: Clinic, found: Secrets, ids: set[str]) -> None:
    for entry in Ledger(clinic).entries():
        found.add_code(entry.client, "a client's code")
        found.add_date(entry.date)
        for revision in entry.revisions:
            found.add_label(Path(revision.upload).stem, "the name of an upload")
    if roster_path(clinic).is_file():
        for row in read_rows(roster_path(clinic), "roster.csv"):
            found.add_code((row.pop("client", "") or "").strip(), "a client's code")
            row.pop("research_consent", None)
            for cell in row.values():
                found.add_name(str(cell), "a cell of the roster")
    for one in {one for some in all_research_ids(clinic).values() for one in some} - ids:
        found.add_code(one, "another research id")
    for path in clinic.state.glob("reviews/*.json"):
        reviewer = json.loads(path.read_text()).get("reviewer")
        if reviewer:
            found.add_code(reviewer, "a reviewer's code")
    found.codes.pop("", None)
    found.raw.discard("")


def _add_clinic(clinic: Clinic, settings: ClinicSettings, found: Secrets) -> None:
    found.add_name(settings.name, "the clinic's name")
    for text in (settings.contact.who, settings.contact.phone, settings.contact.email):
        if text:
            found.add_name(text, "the clinic's contact")
    found.add_note(settings.contact.urgent, "the clinic's contact")


def _add_machine(clinic: Clinic, found: Secrets) -> None:
    names = [socket.gethostname(), *clinic.root.resolve().parts[1:]]
    with contextlib.suppress(KeyError, OSError):  # nobody by that number
        names.append(getpass.getuser())
    for name in names:
        if name.lower() not in _COMMON and len(name) > 3:
            found.add_label(name, "a name of this computer")


def _uploads(clinic: Clinic) -> Iterator[Path]:
    """Folders of uploads, wherever they lie."""
    yield from sorted(clinic.root.glob("originals/*/*/*"))
    for place in (clinic.inbox, clinic.set_aside):
        yield from (sorted(p for p in place.iterdir()) if place.is_dir() else ())


def _add_upload(folder: Path, settings: ClinicSettings, found: Secrets) -> None:
    is_original = folder.parents[2].name == "originals"
    if not is_original:
        found.add_label(folder.stem, "the name of an upload")
    for path in folder.rglob("*") if folder.is_dir() else ():
        if path.name != SHEET_NAME:
            found.add_label(path.stem, "the name of an uploaded file")
        elif path.is_file():
            _add_sheet(path, found, _whose_sheet(folder))
    try:
        files = find_files(folder)
    except UploadError:
        return
    _add_recording(files, settings, found)


def _add_recording(files, settings: ClinicSettings, found: Secrets) -> None:
    mapped = {*settings.annotations, settings.reward_annotation}
    for item in header_items(files):
        if isinstance(item.value, dt.date):
            found.add_date(item.value)
        elif item.is_person:
            found.add_name(item.value, "a person in a recording's header")
        else:
            found.add_label(item.value, "a field of a recording's header")
    for text in annotation_texts(files, settings.time_zone):
        if text not in mapped:
            found.add_label(text, "an annotation of a recording")
    start = start_of(files, settings.time_zone)
    if start:
        found.add_start(start, start.replace(tzinfo=ZoneInfo(settings.time_zone)))


def _whose_sheet(folder: Path) -> str:
    """By codes alone: names of uploads may be names of people."""
    client, number, revision = folder.parts[-3:]
    is_original = folder.parents[2].name == "originals"
    return (
        f"the sheet of {client}/{number} ({revision})" if is_original else f"a sheet in {number}/"
    )


def _add_sheet(path: Path, found: Secrets, whose: str) -> None:
    """Everything in words in a sheet, whether it keeps the rules or not."""
    try:
        sheet = load_plain_yaml(path, path.name)
    except AftersitError:
        found.add_note(path.read_text(errors="replace"), f"a text of {whose}")
        return
    if "client" in sheet:
        found.add_code(str(sheet.pop("client")), "a client's code")
    _add_value("sheet", sheet, found, whose)


def _add_value(key: str, value: object, found: Secrets, whose: str = "a sheet") -> None:
    if isinstance(value, dict):
        for name, inner in value.items():
            if key in ("before", "after"):
                found.add_note(str(name), "a rating's name")
            _add_value(str(name), inner, found, whose)
    elif isinstance(value, list | tuple):
        for inner in value:
            _add_value(key, inner, found, whose)
    elif isinstance(value, str | dt.date) and (key not in _NO_NOTES):
        found.add_note(str(value), f"a text of {whose}")
