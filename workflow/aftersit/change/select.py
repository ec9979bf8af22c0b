"""Which sittings a rescoring is about, and what each becomes."""

import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import dataclass

from aftersit.algorithms import current, label_of, split_label
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.nearest import there_is_no
from aftersit.night.facts import facts_file
from aftersit.night.kept_settings import settings_file
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.plan import PlannedSitting, planned


@dataclass(frozen=True)
class Request:
    """What to rescore.

    Attributes
    ----------
    protocol, version : str, int or None
        The protocol version to score under; None keeps each sitting's own.
    settings : str or None
        The settings version to compute under; None keeps each sitting's own.
    upgrade : bool
        Also move what earlier algorithms made to the program's own version.
    clients : tuple of str
        Only these; all when empty.
    first, last : date or None
        Only sittings of these days.
    practice : str or None
        Only sittings whose sheet says this practice.
    not_practised : bool
        Also sittings that practised other protocols; their results are never in force.
    only_try : bool
        Leave what is in force, and the pages, as they are.
    """

    protocol: str | None = None
    version: int | None = None
    settings: str | None = None
    upgrade: bool = False
    clients: tuple[str, ...] = ()
    first: dt.date | None = None
    last: dt.date | None = None
    practice: str | None = None
    not_practised: bool = False
    only_try: bool = False


@dataclass(frozen=True)
class Rescoring:
    """One sitting: its entry, the entry that it becomes, and the protocols to score."""

    before: Entry
    after: Entry
    protocols: tuple[str, ...]
    in_force: bool

    @property
    def planned(self) -> PlannedSitting:
        return planned(self.after)


@dataclass(frozen=True)
class Selected:
    """What a request comes to, and how many sittings were left out, by reason."""

    rescorings: tuple[Rescoring, ...]
    left_out: dict[str, int]


def select(clinic: Clinic, ledger: Ledger, request: Request) -> Selected:
    """Go through the ledger.

    Raises
    ------
    AftersitError
        A client code or a settings version that the clinic does not have.
    """
    entries = ledger.entries()
    known = {e.client for e in entries}
    for client in sorted(set(request.clients) - known):
        raise AftersitError(there_is_no("client", client, known))
    if request.settings:
        settings_file(clinic, request.settings)
    found, left_out = [], {}
    for entry in entries:
        reason = _left_out(clinic, ledger, entry, request)
        if reason:
            left_out[reason] = left_out.get(reason, 0) + 1
        else:
            found.append(_rescoring(entry, request))
    return Selected(tuple(found), left_out)


def _left_out(clinic: Clinic, ledger: Ledger, entry: Entry, request: Request) -> str | None:
    if not _asked_for(clinic, entry, request):
        return "not asked for"
    if not ledger.is_finished(entry):
        return "not finished yet (run nightly)"
    if request.protocol and request.protocol not in entry.protocols and not request.not_practised:
        return f"did not practise {request.protocol} (--not-practised takes them too)"
    if request.upgrade and split_label(entry.settings)[1] == current() and not request.protocol:
        return "made with these algorithms already"
    if split_label(_label(entry, request))[1] != current():
        return (
            "made with other algorithms than this program has "
            f"(--upgrade takes them, with algorithms {current()})"
        )
    return None


def _asked_for(clinic: Clinic, entry: Entry, request: Request) -> bool:
    in_time = (request.first is None or request.first <= entry.date) and (
        request.last is None or entry.date <= request.last
    )
    if not in_time or (request.clients and entry.client not in request.clients):
        return False
    return request.practice is None or request.practice == practice_of(clinic, entry)


def practice_of(clinic: Clinic, entry: Entry) -> str:
    """The practice on a sitting's sheet."""
    return json.loads(facts_file(clinic, entry.sitting).read_text())["practice"]


def _rescoring(entry: Entry, request: Request) -> Rescoring:
    protocols, names = dict(entry.protocols), tuple(sorted(entry.protocols))
    practised = request.protocol is None or request.protocol in entry.protocols
    if request.protocol:
        protocols = (protocols if practised else {}) | {request.protocol: request.version}
        names = (request.protocol,)
    label = _label(entry, request)
    if label != entry.settings and practised:
        names = tuple(sorted(protocols))  # a sitting's pages hold one label only
    after = entry.model_copy(
        update={
            "protocols": protocols,
            "settings": label,
            "received_settings": entry.received_settings or entry.settings,
            "finished": None,
        }
    )
    return Rescoring(entry, after, names, practised and not request.only_try)


def _label(entry: Entry, request: Request) -> str:
    """Results that are computed anew are computed with the program's own algorithms."""
    settings, number = split_label(entry.settings)
    if request.settings:
        settings = request.settings
    return label_of(settings, current() if request.upgrade or request.settings else number)


def labels(rescorings: Iterable[Rescoring]) -> list[str]:
    """All labels that results will stand under."""
    return sorted({r.after.settings for r in rescorings})
