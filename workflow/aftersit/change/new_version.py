"""Make a new version of a protocol or of settings; a used one gets back what it said."""

import re
from pathlib import Path

from aftersit.algorithms import current, label_of, split_label
from aftersit.change import frozen
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.files import write_atomically
from aftersit.night import kept_settings as kept
from aftersit.night.ledger import Ledger
from aftersit.protocol import Protocol, load_protocol, protocol_path, versions

_VERSION = re.compile(r"^version:.*$", re.MULTILINE)
_NUMBERED = re.compile(r"(.*?)(\d+)")


def new_protocol_version(clinic: Clinic, name: str) -> list[str]:
    """Take the edited file as the next version, or copy the newest to begin from.

    Returns
    -------
    list of str
        What to tell the user.

    Raises
    ------
    AftersitError
        No such protocol; the newest version was never used, so that it can be edited as it
        is; several used versions were edited; or a file can't be read.
    """
    known = _known(clinic, name)
    edits = {v: frozen.protocol_edit(clinic, name, v) for v in known}
    changed = [v for v, edit in edits.items() if edit]
    for edit in (edits[v] for v in changed):
        if not edit.can_be_read:
            raise edit.error
    if len(changed) > 1:
        which = " and ".join(f"v{v}.yaml" for v in changed)
        raise AftersitError(
            f"protocols/{name}: {which} were both edited after use; put one of them back "
            f"(copies stand in .aftersit/protocols/{name}) and run this again"
        )
    source = changed[0] if changed else known[-1]
    if not protocol_path(clinic.kept_protocols, name, source).is_file():
        raise AftersitError(
            f"protocols/{name}/v{source}.yaml has not been used yet; edit it as it is"
        )
    return _next_protocol(clinic, name, source, known[-1] + 1, bool(changed))


def _known(clinic: Clinic, name: str) -> list[int]:
    known = versions(clinic.protocols, name)
    if not known:
        names = sorted(p.name for p in clinic.protocols.glob("*") if versions(p.parent, p.name))
        raise AftersitError(f"there is no protocol '{name}'; there are: {', '.join(names)}")
    return known


def put_protocol_back(clinic: Clinic, name: str) -> list[str]:
    """Give every edited version that was used its words back; the edit stays beside it.

    Returns
    -------
    list of str
        What to tell the user.

    Raises
    ------
    AftersitError
        No such protocol, or no used version of it was edited.
    """
    lines = []
    for version in _known(clinic, name):
        if frozen.protocol_edit(clinic, name, version):
            lines += _protocol_put_back(clinic, name, version)
    if not lines:
        raise AftersitError(f"protocols/{name}: no used version was edited; nothing to put back")
    return lines


def _protocol_put_back(clinic: Clinic, name: str, version: int) -> list[str]:
    path = protocol_path(clinic.protocols, name, version)
    aside, number = path.with_suffix(".edited.txt"), 1
    while aside.exists():
        number += 1
        aside = path.with_suffix(f".edited-{number}.txt")
    write_atomically(aside, path.read_bytes())
    again = _restored(path, protocol_path(clinic.kept_protocols, name, version))
    return [f"protocols/{name}/{again}; the edit is kept as {aside.name}"]


def _restored(path: Path, copy: Path) -> str:
    """Give a used file back what its frozen copy says; returns what to tell the user."""
    write_atomically(path, copy.read_bytes())
    return f"{path.name} says again what it said at its first use"


def _next_protocol(
    clinic: Clinic, name: str, source: int, number: int, was_edited: bool
) -> list[str]:
    used = protocol_path(clinic.protocols, name, source)
    target = protocol_path(clinic.protocols, name, number)
    text = _VERSION.sub(f"version: {number}", used.read_text(encoding="utf-8"), count=1)
    write_atomically(target, text)
    Protocol.from_yaml(target, f"protocols/{name}/v{number}.yaml")
    lines = [f"made protocols/{name}/v{number}.yaml from v{source}.yaml"]
    if was_edited:
        lines.append(_restored(used, protocol_path(clinic.kept_protocols, name, source)))
    load_protocol(clinic.protocols, name, number)
    return [
        *lines,
        f"new sittings will take version {number}; to see what it changes for earlier ones:",
        f"    scripts/aftersit replay --protocol {name} --version {number} --try --clinic FOLDER",
        f"    scripts/aftersit compare {name}/v{source} {name}/v{number} --clinic FOLDER",
    ]


def new_settings_version(clinic: Clinic, label: str) -> list[str]:
    """Make a new settings version of the clinic's own from an edited (or used) one.

    Returns
    -------
    list of str
        What to tell the user.

    Raises
    ------
    AftersitError
        No such version, or it has not been used yet.
    """
    source = kept.settings_source(clinic, label)
    if not kept.kept_settings(clinic, label).is_file():
        raise AftersitError(f"settings {label} have not been used yet; edit {source.name} as it is")
    new = _unused_label(clinic, label)
    regions = kept.regions_source(clinic, label)
    write_atomically(clinic.own_settings / f"{new}.yaml", source.read_bytes())
    said = regions.read_bytes() if regions else kept.NO_UNIONS.encode()
    write_atomically(clinic.own_settings / f"{new}.regions.yaml", said)
    lines = [f"made settings/{new}.yaml and settings/{new}.regions.yaml from {label}"]
    lines += _put_back(clinic, label, source, regions)
    return [
        *lines,
        f"for new sittings, write `settings: {new}` into clinic.yaml; for earlier ones:",
        f"    scripts/aftersit replay --settings {new} --try --clinic FOLDER",
        f"    scripts/aftersit compare {_newest_label(clinic, label)} {label_of(new, current())}"
        " --clinic FOLDER",
    ]


def _newest_label(clinic: Clinic, settings: str) -> str:
    """The newest label under which results of a settings version are in force."""
    made = [split_label(entry.settings) for entry in Ledger(clinic).entries()]
    numbers = [number for name, number in made if name == settings]
    return label_of(settings, max(numbers, default=current()))


def _unused_label(clinic: Clinic, label: str) -> str:
    stem, number = _NUMBERED.fullmatch(label).groups() if _NUMBERED.fullmatch(label) else (label, 1)
    known = {p.stem for f in (kept.FOLDER, clinic.own_settings) for p in f.glob("*.yaml")}
    n = int(number) + 1
    while f"{stem}{n}" in known:
        n += 1
    return f"{stem}{n}"


def _put_back(clinic: Clinic, label: str, source: Path, regions: Path | None) -> list[str]:
    """Give the used version's files back what they said; a shipped one is not the clinic's."""
    lines = []
    pairs = (
        (source, kept.kept_settings(clinic, label)),
        (regions, kept.kept_regions(clinic, label)),
    )
    for path, copy in pairs:
        if path is None or path.read_bytes() == copy.read_bytes():
            continue
        if path.is_relative_to(clinic.root):
            lines.append(_restored(path, copy))
        else:
            lines.append(f"put back config/settings/{path.name} of the installation yourself")
    return lines
