"""Erase one client: every place of a clinic but earlier exports.

What is about to happen is written down first, and each step may be done twice: an
erasure that was interrupted is finished by the next command that works in the clinic.
"""

import base64
import binascii
import datetime as dt
import re
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.files import write_atomically, write_json
from aftersit.intake.reasons import WHY_TEXT
from aftersit.mentions import WORD, mentions, scrubbed
from aftersit.names import shown
from aftersit.night.layout import COMPARED, erasing_path
from aftersit.night.ledger import Ledger
from aftersit.night.lines import as_line, read_lines
from aftersit.night.register import Register
from aftersit.night.unreported import Unreported
from aftersit.night.whose import is_of, told_place, uploads
from aftersit.pages.digest import Night, Provenance, without_client
from aftersit.pages.words import clinic_words
from aftersit.people_table import cells, loose_bytes, loose_text
from aftersit.trouble import in_words


class Erasing(Closed):
    """`.aftersit/erasing.json`: an erasure that is under way."""

    client: str
    note: str
    """Path of the note that will stay, from the clinic's folder."""
    date: dt.date
    sittings: int
    uploads: tuple[str, ...]
    """Names of the client's uploads, as text on one line; digests tell them."""
    folders: tuple[str, ...]
    """Uploads in inbox and set-aside, from the clinic's folder, as text on one line."""


class Erased(Closed):
    """`.aftersit/erased/<date>.json`: that a client was erased, and not which."""

    date: dt.date
    sittings: int
    uploads: int


def plan_erasure(clinic: Clinic, client: str, date: dt.date) -> Erasing:
    """What erasing this client means."""
    entries = [e for e in Ledger(clinic).entries() if e.client == client]
    own = {s for files in _holdings_of(clinic, client).values() for s in files.values()}
    names = {r.upload for e in entries for r in e.revisions}
    folders = [p for p in uploads(clinic) if is_of(p, client, own - _sheets(entries))]
    return Erasing(
        client=client,
        note=_unused_note(clinic, date),
        date=date,
        sittings=len(entries),
        uploads=tuple(sorted(names | {shown(p.name) for p in folders})),
        folders=tuple(told_place(clinic, p) for p in folders),
    )


def _holdings_of(clinic: Clinic, client: str) -> dict[str, dict[str, str]]:
    held = Register(clinic).holdings()
    return {place: files for place, files in held.items() if _is_original(place, client)}


def _is_original(place: str, client: str) -> bool:
    return place.startswith(f"originals/{client}/")


def _sheets(entries: Iterable) -> set[str]:
    return {r.sheet_sha256 for e in entries for r in e.revisions}


def _unused_note(clinic: Clinic, date: dt.date) -> str:
    folder, number = clinic.state / "erased", 1
    while (folder / f"{date.isoformat()}-{number}.json").exists():
        number += 1
    return str((folder / f"{date.isoformat()}-{number}.json").relative_to(clinic.root))


def begin(clinic: Clinic, erasing: Erasing) -> None:
    """Write down what is about to happen, once all that it reads can be read.

    Raises
    ------
    AftersitError
        A file can't be read; half an erasure helps nobody, so that none is begun.
    """
    try:
        _rehearse(clinic, erasing)
    except OSError as error:
        raise AftersitError(f"nothing erased: {_told(clinic, error)}") from None
    except AftersitError as error:
        raise AftersitError(f"nothing erased: {error}") from None
    write_atomically(erasing_path(clinic), erasing.model_dump_json())


def _rehearse(clinic: Clinic, erasing: Erasing) -> None:
    """Read what `finish` reads, and change nothing."""
    for _ in _own_places(clinic, erasing.client):
        pass
    for path in _tables(clinic):
        _without_rows(clinic, path, erasing.client)
    kinds = {"digest.json": Night, "provenance.json": Provenance}
    told = [(f / name, kind) for f in _digests(clinic, erasing) for name, kind in kinds.items()]
    for path, kind in told:
        if path.is_file():
            kind.from_own_json(path, str(path.relative_to(clinic.root)))
    for path in [*_reasons(clinic), Unreported(clinic).path]:
        path.read_bytes() if path.is_file() else None


def _told(clinic: Clinic, error: OSError) -> str:
    """An error of the system with its place, but no name of an upload."""
    place = Path(error.filename or clinic.root)
    parts = place.relative_to(clinic.root).parts if place.is_relative_to(clinic.root) else ()
    private = parts[:1] in (("inbox",), ("set-aside",), ("originals",))
    where = "/".join(parts[:1] if private else parts)
    return f"{in_words(error)} ({where or 'a file'})"


def unfinished(clinic: Clinic) -> Erasing | None:
    """The erasure that is written down; None when there is none.

    Raises
    ------
    AftersitError
        It is damaged.
    """
    path = erasing_path(clinic)
    if not path.is_file():
        return None
    or_else = ", or delete it and run `erase` again"
    return Erasing.from_own_json(path, ".aftersit/erasing.json", or_else)


def finish(clinic: Clinic) -> None:
    """Do the erasure that is written down, or what is left of it; nothing when none is.

    Raises
    ------
    AftersitError
        A file of it can't be read or written; what is left stays written down.
    """
    erasing = unfinished(clinic)
    if erasing is None:
        return
    try:
        _finish(clinic, erasing)
    except OSError as error:
        why = _told(clinic, error)
        raise AftersitError(f"erasing {erasing.client} is not finished: {why}") from None
    except AftersitError as error:
        raise AftersitError(f"erasing {erasing.client} is not finished: {error}") from None


def _finish(clinic: Clinic, erasing: Erasing) -> None:
    for place in [*_own_places(clinic, erasing.client), *uploads_of(clinic, erasing)]:
        _remove(place)
    _erase_rows(clinic, erasing.client)
    _erase_lines(clinic, erasing)
    _erase_from_pages(clinic, erasing)
    note = Erased(date=erasing.date, sittings=erasing.sittings, uploads=len(erasing.uploads))
    write_json(clinic.root / erasing.note, note.model_dump(mode="json"))
    erasing_path(clinic).unlink()


def _own_places(clinic: Clinic, client: str) -> Iterator[Path]:
    """Files and folders that are about this client alone."""
    yield clinic.root / "originals" / client
    yield clinic.reports / client
    for folder in (clinic.bids, *clinic.derivatives.glob("*")):
        yield folder / f"sub-{client}"
    for folder in (clinic.root / COMPARED).glob("*"):
        if folder.is_dir() and any(_tells(page, client) for page in folder.iterdir()):
            yield folder  # it can be made again for those who stay
    for name in ("ledger", "facts", "finished", "reviews", "logs"):
        yield from (clinic.state / name).glob(f"{client}-*")
    snakemake = clinic.root / ".snakemake"
    for name in ("log", "iocache"):
        yield snakemake / name
    for name in ("metadata", "incomplete"):
        yield from (p for p in (snakemake / name).rglob("*") if mentions(_decoded(p.name), client))
    yield from (p for p in (clinic.state / "logs").glob("*.log") if _tells(p, client))


def _decoded(name: str) -> str:
    """The output that a file of Snakemake is about; its name is that path in base 64."""
    try:
        return base64.b64decode(name, validate=True).decode("utf-8", "replace")
    except (binascii.Error, ValueError):
        return name


def _tells(path: Path, client: str) -> bool:
    return path.is_file() and mentions(path.read_text(errors="replace"), client)


def uploads_of(clinic: Clinic, erasing: Erasing) -> list[Path]:
    """Uploads that go with a client, as far as they are still there."""
    return [p for p in uploads(clinic) if told_place(clinic, p) in erasing.folders]


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    elif path.is_symlink() or path.exists():
        path.unlink()


def _tables(clinic: Clinic) -> list[Path]:
    """Tables of several clients."""
    tables = [clinic.bids / "participants.tsv", clinic.root / "roster.csv"]
    tables += clinic.state.glob("exports/*.left-out.csv")
    return [p for p in [*tables, *clinic.root.glob("partners/*.csv")] if p.is_file()]


def _erase_rows(clinic: Clinic, client: str) -> None:
    """Take the client's rows out of tables of several clients."""
    for path in _tables(clinic):
        _write_if_other(path, _without_rows(clinic, path, client))


def _without_rows(clinic: Clinic, path: Path, client: str) -> str:
    """The table's text without rows that have the client's code; other rows byte for byte."""
    text = loose_text(path)
    if "\0" in text:  # UTF-16, in which no code would be found
        place = path.relative_to(clinic.root)
        raise AftersitError(f"{place} is not UTF-8 text; save the table as CSV UTF-8")
    lines, own = text.splitlines(keepends=True), {client, f"sub-{client}"}
    rows = zip(lines, cells(lines), strict=True)
    return "".join(line for line, row in rows if own.isdisjoint(row))


def _erase_lines(clinic: Clinic, erasing: Erasing) -> None:
    Register(clinic).forget(
        lambda place: _is_original(place, erasing.client) or place in erasing.folders
    )
    path = Unreported(clinic).path
    lines = [line for line in read_lines(path) if not _about(line, erasing)]
    _write_if_other(path, "".join(map(as_line, lines))) if path.is_file() else None


def _about(line: dict, erasing: Erasing) -> bool:
    sitting = str(line.get("sitting", line.get("done", "")))
    return sitting.startswith(f"{erasing.client}/") or line.get("set_aside") in erasing.uploads


def _erase_from_pages(clinic: Clinic, erasing: Erasing) -> None:
    """Digests are written anew without the client; why.txt of other uploads may name a sitting."""
    words = clinic_words(clinic, clinic.read_settings().language)
    for folder in _digests(clinic, erasing):
        without_client(clinic, folder, words, erasing.client, set(erasing.uploads))
    for path in _reasons(clinic):
        _write_if_other(path, scrubbed(loose_text(path), erasing.client))


def _digests(clinic: Clinic, erasing: Erasing) -> Iterator[Path]:
    """Folders of nights that tell of the client."""
    for told in sorted((clinic.reports / "nightly").glob("*/digest.json")):
        pages = told.parent.glob("digest.*")
        if any(_tells(p, erasing.client) or _names(p, erasing) for p in pages):
            yield told.parent


def _reasons(clinic: Clinic) -> list[Path]:
    return sorted(clinic.set_aside.glob(f"*/{WHY_TEXT}"))


def _names(path: Path, erasing: Erasing) -> bool:
    text = path.read_text(errors="replace")
    return any(re.search(WORD.format(re.escape(name)), text) for name in erasing.uploads)


def _write_if_other(path: Path, text: str) -> None:
    data = loose_bytes(text)
    if path.read_bytes() != data:
        write_atomically(path, data)
