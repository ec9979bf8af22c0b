"""The digest of a night, for the clinic's own staff: a page, and the same as JSON.

Sittings stand by their codes, uploads by the names of their folders, and what was wrong
with an upload in the words of its check (which may quote the upload). Notes, remarks and
messages of sheets never stand here. It stays in the clinic's folder.
"""

import datetime as dt
import os
import shlex
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Literal
from urllib.parse import quote

from aftersit.clinic import Clinic, SittingId
from aftersit.closed import Closed
from aftersit.files import write_atomically, write_json
from aftersit.mentions import scrubbed
from aftersit.pages.answers_muscle import findings_of
from aftersit.pages.cautious import mostly_removed
from aftersit.pages.format import day
from aftersit.pages.template import render
from aftersit.pages.words import Words
from aftersit.record import Record

BECAUSE_REFUSED = ("all-conditions-refused", "a-condition-refused")
"""Reasons that only point to refusals; the refusals say more."""


class Done(Closed):
    """A sitting that was processed; `pages` are paths from the clinic's folder."""

    sitting: str
    upload: str
    protocols: tuple[str, ...]
    status: Literal["scored", "not-scored"]
    codes: tuple[str, ...] = ()
    """Reasons for not scoring, refusals and cautions, as the records code them; and
    'reward-mostly-removed', 'electrodes-left-out', 'muscle-suspect', 'drowsy-suspect'."""
    pages: tuple[str, ...] = ()


class Reason(Closed):
    """Why an upload was set aside, and what to do."""

    code: str
    place: str
    found: str
    todo: str


class SetAside(Closed):
    """An upload that can't be processed as it is; `folder` from the clinic's folder."""

    upload: str
    folder: str
    reasons: tuple[Reason, ...]


class Failed(Closed):
    """A sitting that a step could not finish; `log` from the clinic's folder, if there is one."""

    sitting: str
    stage: str
    log: str | None
    todo: str


class Provenance(Closed):
    """What depends on clock and machine."""

    started: dt.datetime
    ended: dt.datetime
    disk_free_bytes: int
    disk_used_bytes: int


class Night(Closed):
    """One night. All but `provenance` follows from what came, and is `digest.json`."""

    schema_version: Literal["1"] = "1"
    date: dt.date
    clinic: str
    done: tuple[Done, ...] = ()
    had_already: tuple[str, ...] = ()
    """Uploads that were received before and changed nothing."""
    set_aside: tuple[SetAside, ...] = ()
    waiting: tuple[str, ...] = ()
    """Uploads that were still being copied."""
    denied: tuple[str, ...] = ()
    """Uploads that the user who runs the night may not read and move."""
    failed: tuple[Failed, ...] = ()
    to_review: tuple[str, ...] = ()
    """Every sitting with a result that no reviewer has released, this night's or older."""
    unpleasant: tuple[str, ...] = ()
    """Sittings of this night whose sheet codes an unpleasant experience."""
    provenance: Provenance | None = None


def done(sitting: SittingId, upload: str, records: Sequence[Record], pages: Sequence[str]) -> Done:
    """What the digest says of a finished sitting."""
    codes = list(dict.fromkeys(code for r in records for code in _codes(r)))
    if "too-few-electrodes" in codes:
        codes = [c for c in codes if c != "few-electrodes"]
    scored = any(r.status == "scored" for r in records)
    return Done(
        sitting=str(sitting),
        upload=upload,
        protocols=tuple(f"{r.protocol.name} v{r.protocol.version}" for r in records),
        status="scored" if scored else "not-scored",
        codes=tuple(codes),
        pages=tuple(pages),
    )


def _codes(record: Record) -> list[str]:
    """Why it was not scored, and what makes its numbers less sure."""
    scored = record.status == "scored"
    refused = [c.refused for c in record.conditions if c.refused]
    codes = [r for r in record.reasons if not (refused and r in BECAUSE_REFUSED)]
    codes += refused + [code for c in record.conditions for code in c.cautions]
    codes += ["reward-mostly-removed"] if mostly_removed(record) else []
    muscle = any(f.finding.verdict == "suspect" for f in findings_of(record))
    codes += ["muscle-suspect"] if muscle else []
    drowsy = any(b.verdict == "suspect" for b in record.drowsiness.blocks)
    codes += ["drowsy-suspect"] if drowsy else []
    codes += ["electrodes-left-out"] if scored and record.quality.bad_electrodes else []
    return codes


def retry_line(upload: str) -> str:
    """What to run when a set-aside upload was put right."""
    return f"scripts/aftersit retry {shlex.quote(upload)} --clinic FOLDER"


def release_line(sitting: str) -> str:
    """What to run when a sitting's report was read."""
    return f"scripts/aftersit release {sitting} --reviewer CODE --clinic FOLDER"


def digest_folder(clinic: Clinic, date: dt.date) -> Path:
    """Where a night's digest lies; a second run of the same date gets `.2` and so on."""
    folder, number = clinic.reports / "nightly" / date.isoformat(), 1
    while folder.exists():
        number += 1
        folder = folder.with_name(f"{date.isoformat()}.{number}")
    return folder


def write_digest(night: Night, clinic: Clinic, folder: Path, words: Words) -> Path:
    """Write `digest.json`, `digest.html` and, when known, `provenance.json`.

    Parameters
    ----------
    night : Night
        What the night did.
    clinic : Clinic
        The clinic whose folder the links are in.
    folder : Path
        Inside the clinic's folder; see `digest_folder`.
    words : Words
        Sentences of the clinic's language.

    Returns
    -------
    Path
        The page.
    """
    write_json(folder / "digest.json", night.model_dump(mode="json", exclude={"provenance"}))
    if night.provenance:
        write_json(folder / "provenance.json", night.provenance.model_dump(mode="json"))
    page = folder / "digest.html"
    write_atomically(page, digest_html(night, PurePosixPath(_from_root(clinic, folder)), words))
    return page


def without_client(
    clinic: Clinic, folder: Path, words: Words, client: str, uploads: set[str]
) -> None:
    """Write an earlier digest anew without a client's sittings and uploads.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    folder : Path
        The digest's.
    words : Words
        Sentences of the clinic's language.
    client : str
        The code.
    uploads : set of str
        Names of the client's uploads.
    """
    told = Night.model_validate_json((folder / "digest.json").read_bytes())
    provenance = folder / "provenance.json"
    if provenance.is_file():
        found = Provenance.model_validate_json(provenance.read_bytes())
        told = told.model_copy(update={"provenance": found})

    def of_others(sitting: str) -> bool:
        return not sitting.startswith(f"{client}/")

    kept = {
        "done": tuple(d for d in told.done if of_others(d.sitting)),
        "failed": tuple(f for f in told.failed if of_others(f.sitting)),
        "to_review": tuple(filter(of_others, told.to_review)),
        "unpleasant": tuple(filter(of_others, told.unpleasant)),
        "had_already": tuple(u for u in told.had_already if u not in uploads),
        "waiting": tuple(u for u in told.waiting if u not in uploads),
        "denied": tuple(u for u in told.denied if u not in uploads),
        "set_aside": tuple(_scrubbed(s, client) for s in told.set_aside if s.upload not in uploads),
    }
    write_digest(told.model_copy(update=kept), clinic, folder, words)


def _scrubbed(one: SetAside, client: str) -> SetAside:
    """Reasons may name a sitting of another client."""
    reasons = [
        r.model_copy(
            update={key: scrubbed(getattr(r, key), client) for key in ("place", "found", "todo")}
        )
        for r in one.reasons
    ]
    return one.model_copy(update={"reasons": tuple(reasons)})


def _from_root(clinic: Clinic, folder: Path) -> str:
    return folder.resolve().relative_to(clinic.root.resolve()).as_posix()


def digest_html(night: Night, folder: PurePosixPath, words: Words) -> str:
    """The page; `folder` is where it will lie, from the clinic's folder."""
    title = words.say("digest.title", date=day(night.date, words.language))
    return render(
        "digest.html",
        "screen",
        language=words.language,
        title=title,
        footer=title,
        night=night,
        words=words,
        text=words.digest,
        link=lambda path: _link(path, folder),
        page_names=_page_names(words),
        client_of=lambda sitting: sitting.partition("/")[0],
        told=lambda code: words.digest.codes.get(code, code.replace("-", " ")),
        report=_report,
        finished=sorted(night.done, key=lambda d: (d.status == "scored", not d.codes)),
        unscored=[d for d in night.done if d.status != "scored"],
        retry_line=retry_line,
        release_line=release_line,
        size=_size,
    )


def _page_names(words: Words) -> dict[str, str]:
    """What a page is called, by its file's name."""
    text = words.digest
    return {
        "clinician.html": text.clinician_page,
        "clinician.pdf": text.clinician_pdf,
        "handout.pdf": text.handout_page,
        "progress.html": text.progress_page,
    }


def _link(path: str, folder: PurePosixPath) -> str:
    """Relative address of a path that counts from the clinic's folder."""
    return quote(os.path.relpath(path, folder).replace(os.sep, "/"))


def _report(sitting: str) -> str:
    """A sitting's report, from the clinic's folder."""
    return str(Clinic(Path()).report(SittingId.parse(sitting)) / "clinician.html")


def _size(count_bytes: int) -> str:
    """Bytes as GB or MB (powers of ten), as disks are sold."""
    if count_bytes < 10**9:
        return f"{count_bytes / 10**6:.0f} MB"
    return f"{count_bytes / 10**9:.1f} GB"
