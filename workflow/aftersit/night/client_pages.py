"""Which clients' progress pages are not those of their finished sittings."""

import json
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.layout import PROGRESS
from aftersit.night.ledger import Ledger
from aftersit.night.plan import Plan, PlannedSitting, planned


def progress_pages(client: str) -> list[str]:
    """A client's progress pages, relative to the clinic."""
    return [f"{PROGRESS.format(client=client)}{end}" for end in (".html", ".pdf", ".json")]


def outdated(clinic: Clinic, ledger: Ledger) -> Plan:
    """The plan for progress pages that lack, or tell of other, finished sittings.

    A sitting that fails is left out, so that it never keeps the others from being told.
    """
    finished = (planned(e) for e in ledger.entries() if ledger.is_finished(e))
    history, clients = [], []
    for client, found in groupby(finished, key=lambda one: one.client):
        sittings = list(found)
        if told(clinic, client) != made_from(sittings):
            history += sittings
            clients.append(client)
    return Plan(sittings=(), history=tuple(history), clients=tuple(clients))


def made_from(sittings: Iterable[PlannedSitting]) -> list[tuple[int, int, str]]:
    """Number, revision and settings of each sitting."""
    return [(s.number, s.revision, s.settings) for s in sittings]


def told(clinic: Clinic, client: str) -> list[tuple[int, int, str]] | None:
    """What the pages that stand there are made from; None where they are not whole."""
    pages = [clinic.root / page for page in progress_pages(client)]
    if not all(page.is_file() for page in pages):
        return None
    return _told(pages[-1])


def _told(numbers: Path) -> list[tuple[int, int, str]] | None:
    try:
        found = json.loads(numbers.read_text(encoding="utf-8"))["sittings"]
        return [(s["number"], s["revision"], s["settings"]) for s in found]
    except (ValueError, KeyError, TypeError):
        return None
