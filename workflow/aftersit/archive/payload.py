"""Make the payload: everything that goes under `data/`."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from itertools import groupby
from pathlib import Path

from aftersit.archive.choose import Chosen
from aftersit.archive.crate import About, Step, write_crate
from aftersit.archive.dictionaries import sentences
from aftersit.archive.groups import Person, joined, small_groups
from aftersit.archive.ids import Pseudonym
from aftersit.archive.measures import write_measures
from aftersit.archive.partner import Partner
from aftersit.archive.people import first_days, participants_tsv, people, write_sessions
from aftersit.archive.place import CLEANED, MEASURES, RAW, Going
from aftersit.archive.scrub import Scrub
from aftersit.archive.signals import write_cleaned, write_raw
from aftersit.archive.texts import Told, write_texts
from aftersit.clinic import Clinic
from aftersit.settings import Settings, load_settings, read_settings


@dataclass(frozen=True)
class Order:
    """What is to be handed over, decided."""

    clinic: Clinic
    partner: Partner
    chosen: Sequence[Chosen]
    pseudonyms: dict[str, Pseudonym]
    published: str
    """Year or day that the bag gives as its own, ISO 8601."""

    known: Sequence[Person] = ()
    """What the partner was told of people before."""

    @property
    def people(self) -> list[Person]:
        return people(self.clinic, self.chosen, self.pseudonyms, self.partner)

    def small_groups(self, k: int) -> list[tuple[tuple[str, ...], int]]:
        """Of this bag alone, and of it joined with what the partner has."""
        found = self.people
        both = (found, joined([*self.known, *found]))
        return sorted({group for some in both for group in small_groups(some, k)})


def write_payload(order: Order, payload: Path, scrub: Scrub) -> None:
    """Write every file of the payload; the same order gives the same bytes.

    Parameters
    ----------
    order : Order
    payload : Path
        An empty folder.
    scrub : Scrub
    """
    going = _in_order(order, payload, scrub)
    for one in going:
        write_raw(one)
        write_cleaned(one)
        write_measures(one)
    firsts = first_days(order.clinic)
    for _, group in groupby(going, lambda one: one.subject):
        write_sessions(list(group), firsts, order.partner)
    found = order.people
    (payload / RAW / "participants.tsv").write_text(participants_tsv(found))
    write_texts(payload, _told(order, found))
    about = About(
        name=order.partner.title,
        description=sentences()["crate"],
        published=order.published,
        licence=order.partner.licence,
        authors=order.partner.authors,
        version=version("aftersit"),
    )
    write_crate(payload, about, _steps(going))


def _in_order(order: Order, payload: Path, scrub: Scrub) -> list[Going]:
    """By research id, so that the order tells nothing of the clinic's own codes."""
    going = [
        Going(order.clinic, one, order.pseudonyms[one.entry.client], payload, scrub)
        for one in order.chosen
    ]
    return sorted(going, key=lambda one: (one.pseudonym.research_id, one.chosen.entry.number))


def _told(order: Order, found: Sequence[Person]) -> Told:
    labels = sorted({one.entry.settings for one in order.chosen})
    counts = [n for _, n in order.small_groups(len(found) + len(order.known) + 1)]
    return Told(
        partner=order.partner,
        people=found,
        n_sittings=len(order.chosen),
        smallest_group=min(counts),
        settings=[(label, _settings(order.clinic, label)) for label in labels],
    )


def _settings(clinic: Clinic, label: str) -> Settings:
    """The copy that results rest on; as shipped where a clinic has none yet."""
    kept = clinic.kept_settings / f"{label}.yaml"
    return read_settings(kept) if kept.is_file() else load_settings(label)


def _steps(going: Sequence[Going]) -> Iterator[Step]:
    """What was made from what, by sitting."""
    names = sentences()["steps"]
    for one in going:
        sitting, key = f"sub-{one.subject}/ses-{one.session}", f"{one.subject}-{one.session}"
        raw, cleaned, measures = (f"{part}/{sitting}" for part in (RAW, CLEANED, MEASURES))
        tables = ("matrices.npz", "aperiodic.tsv", "bandpower.tsv", "regions.tsv", "spectra.tsv")
        tables = tuple(f"{measures}/{one.stem}_{name}" for name in tables)
        yield Step(f"clean-{key}", names["clean"], (f"{raw}/eeg",), (f"{cleaned}/eeg",))
        yield Step(f"measure-{key}", names["measure"], (f"{cleaned}/eeg",), tables)
        for name, number in sorted(one.chosen.entry.protocols.items()):
            protocol = f"{MEASURES}/protocols/{name}-v{number}.json"
            inputs = (f"{raw}/eeg", f"{cleaned}/eeg", tables[0], protocol)
            outputs = (f"{measures}/{name}-v{number}",)
            yield Step(f"replay-{key}-{name}-v{number}", names["replay"], inputs, outputs)
