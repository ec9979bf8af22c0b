"""The crate: a Process Run Crate 0.5 (an RO-Crate 1.1) that says what was made from what.

It knows nothing of clinics: a caller describes files and steps, so that any part of the
project can write one. Steps carry no times, hosts or people, which would tell when sittings
took place.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from aftersit.files import as_json

FILE = "ro-crate-metadata.json"
PROFILE = "https://w3id.org/ro/wfrun/process/0.5"
_FORMATS = {
    ".cff": "text/x-yaml",
    ".eeg": "application/octet-stream",
    ".json": "application/json",
    ".md": "text/markdown",
    ".npz": "application/zip",
    ".tsv": "text/tab-separated-values",
    ".vhdr": "text/plain",
    ".vmrk": "text/plain",
}


@dataclass(frozen=True)
class Step:
    """Something that was done: files in, files out."""

    key: str
    """Names the step within the crate, `#clean-...`."""
    name: str
    inputs: tuple[str, ...]
    """Paths of files or folders, from the crate's root."""
    outputs: tuple[str, ...]


@dataclass(frozen=True)
class About:
    """What the crate says of itself."""

    name: str
    description: str
    published: str
    licence: str
    authors: Sequence[str]
    version: str
    """Of Aftersit."""


def write_crate(root: Path, about: About, steps: Iterable[Step]) -> None:
    """Describe every file under `root`, and write `ro-crate-metadata.json` there.

    Parameters
    ----------
    root : Path
        Folder of the crate; files in it are described, none is changed.
    about : About
    steps : iterable of Step
        Their inputs and outputs must lie under `root`.
    """
    from rocrate.model.contextentity import ContextEntity
    from rocrate.rocrate import ROCrate

    crate = ROCrate(version="1.1")
    _describe(crate, about)
    for path in sorted(p for p in root.rglob("*") if p.is_file() and p.name != FILE):
        _add_file(crate, root, path)
    software = ContextEntity(
        crate,
        "#aftersit",
        {"@type": "SoftwareApplication", "name": "Aftersit", "version": about.version},
    )
    crate.add(software)
    actions = [_action(crate, root, step, software) for step in steps]
    crate.root_dataset["mentions"] = actions
    (root / FILE).write_text(as_json(_sorted(crate.metadata.generate())))


def _describe(crate, about: About) -> None:
    from rocrate.model.contextentity import ContextEntity

    crate.name, crate.description = about.name, about.description
    crate.root_dataset["datePublished"] = about.published
    profile = {"@type": "CreativeWork", "name": "Process Run Crate", "version": "0.5"}
    crate.root_dataset["conformsTo"] = crate.add(ContextEntity(crate, PROFILE, profile))
    told = {"@type": "CreativeWork", "name": about.licence, "description": about.licence}
    crate.root_dataset["license"] = crate.add(ContextEntity(crate, "#licence", told))
    authors = [
        ContextEntity(
            crate,
            f"#author-{number}",
            {"@type": "Person" if "," in name else "Organization", "name": name},
        )
        for number, name in enumerate(about.authors, 1)
    ]
    crate.root_dataset["author"] = [crate.add(author) for author in authors]


def _add_file(crate, root: Path, path: Path) -> None:
    told = {"contentSize": str(path.stat().st_size), "name": path.name}
    if path.suffix in _FORMATS:
        told["encodingFormat"] = _FORMATS[path.suffix]
    # No source on the disk: the crate describes what lies there and copies nothing.
    crate.add_file(dest_path=str(path.relative_to(root)), properties=told)


def _action(crate, root: Path, step: Step, software):
    from rocrate.model.contextentity import ContextEntity

    action = ContextEntity(crate, f"#{step.key}", {"@type": "CreateAction", "name": step.name})
    action["instrument"] = software
    action["object"] = [{"@id": path} for path in _files(root, step.inputs)]
    action["result"] = [{"@id": path} for path in _files(root, step.outputs)]
    return crate.add(action)


def _files(root: Path, places: Sequence[str]) -> list[str]:
    """Files, and the files in folders, in a fixed order."""
    found = []
    for place in places:
        path = root / place
        inside = sorted(p for p in path.rglob("*") if p.is_file()) if path.is_dir() else [path]
        found += [str(p.relative_to(root)) for p in inside]
    return found


def _sorted(metadata: dict) -> dict:
    """Entities by their id, so that the same crate is the same bytes."""
    graph = sorted(metadata["@graph"], key=lambda entity: entity["@id"])
    return metadata | {"@graph": json.loads(json.dumps(graph))}
