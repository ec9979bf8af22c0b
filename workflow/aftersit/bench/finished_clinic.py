"""An archive of finished sittings without signals, for the bench: made through the real ledger."""

import datetime as dt
import os
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import yaml

from aftersit.bench.heads import LABEL
from aftersit.bench.night_clinic import CLINIC
from aftersit.clinic import Clinic
from aftersit.files import as_json
from aftersit.night import layout
from aftersit.night.client_pages import made_from, progress_pages
from aftersit.night.contents import contents
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import PlannedSitting, planned
from aftersit.night.register import Register
from aftersit.night.report import reviewed_files
from aftersit.pages import review

OF_EACH_CLIENT = 10
UNREVIEWED_EACH = 50
"""One handout in so many waits for its review."""
FIRST = dt.date(2012, 1, 9)
RECORD_BYTES = 30_000
"""Of a real record; checking a review reads it."""


def make_archive(root: Path, sittings: int) -> Clinic:
    """Write a clinic with so many finished sittings, ten of each client."""
    clinic = Clinic(root)
    root.mkdir(parents=True)
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    found = [_finished(_entry(number)) for number in range(sittings)]
    ledger = Ledger(clinic)
    for number, entry in enumerate(found):
        _write_files(clinic, planned(entry))
        ledger.write(entry)
        if number % UNREVIEWED_EACH:
            _release(clinic, planned(entry))
    for client, own in groupby(map(planned, found), key=lambda one: one.client):
        _write_progress(clinic, client, list(own))
    for folder in (root, *_folders(root)):
        folder.chmod(0o700)
    return clinic


def _entry(number: int) -> Entry:
    client, own = divmod(number, OF_EACH_CLIENT)
    return Entry(
        client=f"B{client:04d}",
        number=own + 1,
        date=FIRST + dt.timedelta(days=number),
        recording_sha256=f"{number:064x}",
        revisions=(Revision(number=1, upload=f"upload-{number}", sheet_sha256=f"{number:064x}"),),
        protocols={"soft-alpha": 1},
        settings=LABEL,
    )


def _finished(entry: Entry) -> Entry:
    one = planned(entry)
    done = Finished(revision=1, outputs=(*one.records, *one.pages))
    return entry.model_copy(update={"finished": done})


def _write_files(clinic: Clinic, one: PlannedSitting) -> None:
    record = as_json({"client": one.client, "filler": "x" * RECORD_BYTES})
    texts = dict.fromkeys(one.records, record)
    texts |= dict.fromkeys((*one.pages, one.place(layout.STAMP)), "page\n")
    texts[one.sheet] = f"client: {one.client}\n"
    for place, text in texts.items():
        path = clinic.root / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    Register(clinic).add(one.original, contents(clinic.root / one.original))


def _release(clinic: Clinic, one: PlannedSitting) -> None:
    files = reviewed_files(clinic, one)
    review.release(clinic, one.sitting, "RV1", files, one.date + dt.timedelta(days=3))


def _write_progress(clinic: Clinic, client: str, sittings: list[PlannedSitting]) -> None:
    of_sittings, texts = made_from(clinic, sittings)
    told = [
        {"number": number, "revision": revision, "settings": settings}
        for number, revision, settings in of_sittings
    ]
    for page in progress_pages(client):
        (clinic.root / page).write_text(as_json({"sittings": told, "made_from": texts}))


def _folders(root: Path) -> Iterator[Path]:
    for place, folders, _ in os.walk(root):
        yield from (Path(place, name) for name in folders)
