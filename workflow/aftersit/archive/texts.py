"""Files that a bag holds once: descriptions, READMEs, licence, citation, dictionaries, methods."""

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import jinja2
import yaml

from aftersit.archive.dictionaries import SHARED, TEMPLATES, dictionary, sentences
from aftersit.archive.groups import Person
from aftersit.archive.partner import Partner
from aftersit.archive.place import CLEANED, MEASURES, RAW
from aftersit.bids.dataset import BIDS_VERSION
from aftersit.clinic import TASK
from aftersit.files import as_json
from aftersit.replay.schemas import FOLDER as SCHEMAS
from aftersit.settings import Settings

HED_VERSION = "8.3.0"
_MADE_BY = [{"Name": "Aftersit", "Version": version("aftersit")}]


@dataclass(frozen=True)
class Told:
    """What the texts are filled with."""

    partner: Partner
    people: Sequence[Person]
    n_sittings: int
    smallest_group: int
    settings: Sequence[tuple[str, Settings]]
    """Settings versions that results rest on, by label."""


def write_texts(payload: Path, told: Told) -> None:
    """Write them all into the payload."""
    for name, text in _texts(told).items():
        (payload / name).parent.mkdir(parents=True, exist_ok=True)
        (payload / name).write_text(text)
    shutil.copyfile(SCHEMAS / "record.schema.json", payload / MEASURES / "record.schema.json")


def _texts(told: Told) -> dict[str, str]:
    licence = told.partner.licence_text.rstrip() + "\n"
    scans = "scans-shifted" if told.partner.dates == "shifted" else "scans"
    return {
        "README.md": render("README.md", told),
        "methods.md": render("methods.md", told),
        "LICENSE": licence,
        f"{RAW}/README.md": render("bids-README.md", told),
        f"{RAW}/LICENSE": licence,
        f"{RAW}/CITATION.cff": citation(told),
        f"{RAW}/dataset_description.json": as_json(_raw_description(told)),
        f"{RAW}/participants.json": as_json(dictionary("participants")),
        f"{RAW}/sessions.json": as_json(dictionary("sessions")),
        f"{RAW}/scans.json": as_json(dictionary(scans)),
        f"{RAW}/task-{TASK}_events.json": as_json(dictionary("events")),
        f"{CLEANED}/README.md": render("cleaned-README.md", told),
        f"{CLEANED}/LICENSE": licence,
        f"{CLEANED}/dataset_description.json": as_json(_cleaned_description(told)),
        f"{CLEANED}/descriptions.tsv": _descriptions_tsv(),
        f"{CLEANED}/task-{TASK}_desc-clean_events.json": as_json(dictionary("bad-events")),
        f"{MEASURES}/README.md": render("measures-README.md", told),
        **{f"{MEASURES}/{name}.json": as_json(dictionary(name)) for name in SHARED},
    }


def _descriptions_tsv() -> str:
    return f"desc_id\tdescription\ndesc-clean\t{sentences()['clean-recordings']}\n"


def render(name: str, told: Told) -> str:
    """Fill one template of `templates/archive/`."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,  # Markdown
    )
    environment.filters["num"] = lambda value: f"{value:g}"
    return environment.get_template(name).render(
        partner=told.partner,
        n_people=len(told.people),
        n_sittings=told.n_sittings,
        smallest_group=told.smallest_group,
        labels=[label for label, _ in told.settings],
        settings=told.settings,
        version=version("aftersit"),
        bids_version=BIDS_VERSION,
    )


def _raw_description(told: Told) -> dict:
    """Authors and licence stand in CITATION.cff and LICENSE, as BIDS wants it."""
    return {
        "Name": told.partner.title,
        "BIDSVersion": BIDS_VERSION,
        "HEDVersion": HED_VERSION,
        "DatasetType": "raw",
        "GeneratedBy": _MADE_BY,
    }


def _cleaned_description(told: Told) -> dict:
    return {
        "Name": f"{told.partner.title}: cleaned",
        "BIDSVersion": BIDS_VERSION,
        "HEDVersion": HED_VERSION,
        "DatasetType": "derivative",
        "License": told.partner.licence,
        "Authors": list(told.partner.authors),
        "GeneratedBy": _MADE_BY,
        "SourceDatasets": [{"URL": "../../"}],
        "DatasetLinks": {"raw": "../../"},
    }


def citation(told: Told) -> str:
    """`CITATION.cff`, Citation File Format 1.2.0."""
    authors = [_author(name) for name in told.partner.authors]
    made = {
        "cff-version": "1.2.0",
        "message": sentences()["citation"],
        "type": "dataset",
        "title": told.partner.title,
        "authors": authors,
    }
    if told.partner.published:
        made["date-released"] = told.partner.published.isoformat()
    return yaml.safe_dump(made, sort_keys=False, allow_unicode=True)


def _author(name: str) -> dict[str, str]:
    family, comma, given = name.partition(",")
    if not comma:
        return {"name": name}
    return {"family-names": family.strip(), "given-names": given.strip()}
