"""The whole check of an upload: what intake would say of it."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from aftersit.blocks import Block
from aftersit.change.frozen import protocol_edit
from aftersit.clinic import Clinic, ClinicSettings
from aftersit.errors import AftersitError, InvalidFileError, NotUtf8Error
from aftersit.files import sha256
from aftersit.head.region_set import read_regions
from aftersit.intake.block_times import cover_notes, sitting_blocks
from aftersit.intake.dotted_times import dotted_times
from aftersit.intake.problems import Note, Problem, UploadError
from aftersit.intake.recording import Recording, read_recording
from aftersit.intake.settings import IntakeSettings
from aftersit.intake.upload_files import SHEET_NAME, UploadFiles, find_files
from aftersit.night.kept_settings import regions_file
from aftersit.places import check_regions
from aftersit.protocol import load_protocol, versions
from aftersit.sheet import Kind, Sheet

T = TypeVar("T")


@dataclass(frozen=True)
class Accepted:
    """An upload that can be processed, and what was found in it."""

    sheet: Sheet
    files: tuple[str, ...]
    date: dt.date
    blocks: tuple[Block, ...]
    protocols: dict[str, int]
    """Protocols of the practice blocks, each with the highest version there is."""
    recording_sha256: str
    sheet_sha256: str
    duration_s: float
    rate_hz: float
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Finding:
    """Problems, or what was accepted; never both."""

    problems: tuple[Problem, ...]
    accepted: Accepted | None


def check_upload(
    folder: Path, clinic: Clinic, clinic_settings: ClinicSettings, settings: IntakeSettings
) -> Finding:
    """Check one upload; nothing is written or moved.

    Parameters
    ----------
    folder : Path
        The upload: one recording and `sitting.yaml`.
    clinic : Clinic
        Whose protocols count.
    clinic_settings : ClinicSettings
        `clinic.yaml`.
    settings : IntakeSettings
        Limits.

    Returns
    -------
    Finding
        All problems that could be found, sheet and recording alike.
    """
    problems: list[Problem] = []
    files = _try(lambda: find_files(folder), problems)
    if files is None:
        return Finding(tuple(problems), None)
    sheet = _try(lambda: read_sheet(files.sheet), problems)
    own = regions_file(clinic, clinic_settings.settings)
    protocols = _try(lambda: _protocols(sheet, clinic, own), problems) if sheet else None
    recording = _try(lambda: read_recording(files, settings, clinic_settings.time_zone), problems)
    if sheet is None or recording is None:
        return Finding(tuple(problems), None)
    blocks = _try(lambda: sitting_blocks(sheet, recording, clinic_settings, settings), problems)
    date = _try(lambda: sitting_date(sheet, recording), problems)
    if problems:
        return Finding(tuple(problems), None)
    pinned = {name: protocols[name] for name in _practised(sheet, blocks)}
    accepted = _accepted(sheet, files, date, blocks, pinned, recording)
    more = cover_notes(blocks, recording.duration_s, settings)
    return Finding((), replace(accepted, notes=(*accepted.notes, *more)))


def read_sheet(path: Path) -> Sheet:
    """Read a sitting sheet; UploadError with one problem for each wrong place."""
    dotted = dotted_times(path, SHEET_NAME)
    try:
        sheet = Sheet.from_yaml(path, SHEET_NAME)
    except NotUtf8Error as error:
        todo = f"open {SHEET_NAME} in an editor and save it as UTF-8"
        found = f"line {error.line} is not UTF-8 text"
        raise UploadError(Problem("sheet-encoding", SHEET_NAME, found, todo)) from None
    except InvalidFileError as error:
        raise UploadError(*dotted, *(_sheet_problem(line) for line in error.problems)) from None
    if dotted:
        raise UploadError(*dotted)
    return sheet


def sitting_date(sheet: Sheet, recording: Recording) -> dt.date:
    """The sheet's date, else the recording's; UploadError when neither has one."""
    if sheet.date is not None:
        return sheet.date
    if recording.start is not None:
        return recording.start.date()
    problem = Problem(
        "no-date",
        f"{SHEET_NAME}: date",
        "neither the sheet nor the recording has a date",
        "write the day of the sitting into the sheet, as `date: YYYY-MM-DD`",
    )
    raise UploadError(problem)


def _try(step: Callable[[], T], problems: list[Problem]) -> T | None:
    """Do one step; what it finds wrong is gathered, so that a user hears all at once."""
    try:
        return step()
    except UploadError as error:
        problems.extend(error.problems)
    except OSError as error:
        found = f"a file can't be read ({type(error).__name__})"
        problems.append(Problem("unreadable", "upload folder", found, "copy the upload again"))
    return None


def _sheet_problem(line: str) -> Problem:
    place, _, found = line.partition(": ")
    if not found or " " in place.removeprefix("line "):  # about the file as a whole
        todo = "write the sheet anew; the README has one to copy"
        return Problem("sheet", SHEET_NAME, line, todo)
    todo = "correct this line of the sheet; the README lists every key"
    return Problem("sheet", f"{SHEET_NAME}: {place}", found, todo)


def _protocols(sheet: Sheet, clinic: Clinic, regions: Path | None) -> dict[str, int]:
    """Highest version of every protocol that the sheet names; `regions` as in `read_regions`."""
    folder = clinic.protocols
    places = {"protocol": sheet.protocol}
    if sheet.blocks != "from-annotations":
        named = ((f"blocks.{n}.protocol", b.protocol) for n, b in enumerate(sheet.blocks, 1))
        places |= {place: name for place, name in named if name is not None}
    problems, found = [], {}
    for place, name in places.items():
        known = versions(folder, name)
        if known:
            found[name] = known[-1]
        else:
            problems.append(_unknown_protocol(place, name, folder))
    broken = (_broken_protocol(clinic, regions, *item) for item in found.items())
    problems += [problem for problem in broken if problem]
    if problems:
        raise UploadError(*problems)
    return found


def _unknown_protocol(place: str, name: str, folder: Path) -> Problem:
    known = sorted(p.name for p in folder.glob("*") if versions(folder, p.name))
    return Problem(
        "unknown-protocol",
        f"{SHEET_NAME}: {place}",
        f"found '{name}'; allowed: {', '.join(known) or 'none, the clinic has no protocols yet'}",
        "correct the name, or add the protocol to the clinic's protocols folder",
    )


def _broken_protocol(
    clinic: Clinic, regions: Path | None, name: str, version: int
) -> Problem | None:
    """A version that can't be run, or says something else than when it was first used."""
    place = f"protocols/{name}/v{version}.yaml"
    try:
        edit = protocol_edit(clinic, name, version)
        if edit is None or edit.can_be_read:
            check_regions(load_protocol(clinic.protocols, name, version), read_regions(regions))
    except AftersitError as error:
        todo = "correct the protocol file; the upload itself is not at fault"
        return Problem("broken-protocol", place, str(error), todo)
    if edit is None:
        return None
    if not edit.can_be_read:
        todo = f"correct the protocol file, or put back what it said with `{edit.command}`; "
        return Problem(
            "broken-protocol",
            place,
            "; ".join(edit.lines),
            f"{todo}the upload itself is not at fault",
        )
    return Problem(
        "protocol-changed",
        place,
        f"it was edited after sittings were received under it: {'; '.join(edit.lines)}",
        f"make a new version of the edit with `{edit.command}`, which puts back what this "
        "version said; the upload itself is not at fault",
    )


def _practised(sheet: Sheet, blocks: tuple[Block, ...]) -> list[str]:
    """Protocols of the practice blocks; the sheet's own when there is no practice block."""
    names = {b.protocol for b in blocks if b.kind is Kind.PRACTICE}
    return sorted(names or {sheet.protocol})


def _accepted(
    sheet: Sheet,
    files: UploadFiles,
    date: dt.date,
    blocks: tuple[Block, ...],
    protocols: dict[str, int],
    recording: Recording,
) -> Accepted:
    return Accepted(
        sheet,
        files.names,
        date,
        blocks,
        protocols,
        sha256(files.recording),
        sha256([files.sheet]),
        recording.duration_s,
        recording.rate_hz,
        (*recording.notes, *_date_notes(date, recording)),
    )


def _date_notes(date: dt.date, recording: Recording) -> list[Note]:
    if recording.start is None or recording.start.date() == date:
        return []
    text = f"the recording's own date is {recording.start.date()}; the sheet's date counts"
    return [Note("date-differs", text)]
