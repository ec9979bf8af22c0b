"""Which clients' progress pages are made with a night's sittings, and which are not theirs."""

import json
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.files import sha256
from aftersit.night.layout import PROGRESS
from aftersit.night.ledger import Ledger
from aftersit.night.plan import Plan, PlannedSitting, in_order, planned

Sources = tuple[list[tuple[int, int, str]], dict[str, str]]
"""Number, revision and settings of each sitting; checksums of what the clinic wrote."""


def progress_pages(client: str) -> list[str]:
    """A client's progress pages, relative to the clinic."""
    return [f"{PROGRESS.format(client=client)}{end}" for end in (".html", ".pdf", ".json")]


def with_progress(clinic: Clinic, ledger: Ledger, plan: Plan) -> Plan:
    """The plan, and the progress pages that its sittings change.

    A client with a sitting that has to be replayed for the yardstick alone is left to
    `outdated`, so that what such a replay lacks never keeps a night from its sittings.
    """
    clients = {one.client for one in plan.sittings}
    own = (entry for entry in ledger.entries() if entry.client in clients)
    history = tuple(planned(entry) for entry in own if ledger.is_finished(entry))
    whole = plan.model_copy(update={"history": history})
    ready = tuple(c for c in sorted(clients) if _replayed(clinic, whole, c))
    return whole.model_copy(update={"clients": ready})


def _replayed(clinic: Clinic, plan: Plan, client: str) -> bool:
    """Whether the replays that the yardstick needs are there, or made anyway."""
    yardstick = plan.yardstick(client)
    return all(
        yardstick in one.protocols.items()
        or (clinic.root / one.replay_folder(*yardstick) / "record.json").is_file()
        for one in plan.of_client(client)
    )


def outdated(clinic: Clinic, ledger: Ledger) -> Plan:
    """The plan for progress pages that lack, or tell of other, finished sittings or words.

    A sitting that fails is left out, so that it never keeps the others from being told.
    """
    finished = (planned(e) for e in ledger.entries() if ledger.is_finished(e))
    history, clients = [], []
    for client, found in groupby(finished, key=lambda one: one.client):
        sittings = list(found)
        if told(clinic, client) != made_from(clinic, sittings):
            history += sittings
            clients.append(client)
    return Plan(sittings=(), history=tuple(history), clients=tuple(clients))


def made_from(clinic: Clinic, sittings: Iterable[PlannedSitting]) -> Sources:
    """What a client's pages are made from."""
    return [(s.number, s.revision, s.settings) for s in in_order(sittings)], own_texts(clinic)


def own_texts(clinic: Clinic) -> dict[str, str]:
    """Checksums of what a clinic wrote of itself: its settings, and its words if it has any."""
    files: Sequence[Path] = (clinic.settings_file, clinic.root / "words.yaml")
    return {path.name: sha256([path]) for path in files if path.is_file()}


def told(clinic: Clinic, client: str) -> Sources | None:
    """What the pages that stand there are made from; None where they are not whole."""
    pages = [clinic.root / page for page in progress_pages(client)]
    if not all(page.is_file() for page in pages):
        return None
    return _told(pages[-1])


def _told(numbers: Path) -> Sources | None:
    try:
        found = json.loads(numbers.read_text(encoding="utf-8"))
        sittings = [(s["number"], s["revision"], s["settings"]) for s in found["sittings"]]
        return sittings, dict(found["made_from"])
    except (ValueError, KeyError, TypeError):
        return None
