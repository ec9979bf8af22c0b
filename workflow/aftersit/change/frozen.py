"""Versions that have been used are frozen: what was edited, and how to make a new version of it.

A protocol version is used once a sitting was received or scored under it, a settings
version once anything was computed under it. The copy made then counts.
"""

from dataclasses import dataclass
from pathlib import Path

from aftersit.change.differences import differences
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError, InvalidFileError
from aftersit.head.region_set import Unions
from aftersit.night import kept_settings as kept
from aftersit.protocol import load_protocol, protocol_path, versions
from aftersit.settings import Settings


class FrozenError(AftersitError):
    """A used version was edited."""


@dataclass(frozen=True)
class Edited:
    """A used version whose file says something else than at its first use.

    Attributes
    ----------
    file : str
        As a user knows it.
    lines : tuple of str
        What differs, one key each: `conditions.alpha.threshold.absolute: 1.5 -> 2.5`.
    command : str
        Makes a new version of the edit and puts back what the used one said; of an edit that
        can't be read only the latter.
    can_be_read : bool
        Else `lines` say what is wrong with it.
    """

    file: str
    lines: tuple[str, ...]
    command: str
    can_be_read: bool = True

    @property
    def error(self) -> FrozenError:
        """The refusal, difference and command included."""
        shown = "\n".join(f"    {line}" for line in self.lines)
        if not self.can_be_read:
            return FrozenError(
                f"{self.file} was edited after results were made with it, and can't be read now:\n"
                f"{shown}\nCorrect it, or put back what it said at its first use with\n"
                f"    {self.command}"
            )
        return FrozenError(
            f"{self.file} was edited after results were made with it; a used version is frozen, "
            f"and the edit is not used. It differs in\n{shown}\n"
            f"Make a new version of it with\n    {self.command}"
        )


def new_protocol_command(name: str) -> str:
    """What makes a new version of a protocol."""
    return f"scripts/aftersit new-version {name} --clinic FOLDER"


def put_back_command(name: str) -> str:
    """What gives the used versions of a protocol back what they said."""
    return f"scripts/aftersit new-version {name} --put-back --clinic FOLDER"


def new_settings_command(label: str) -> str:
    """What makes a new settings version."""
    return f"scripts/aftersit new-version --settings {label} --clinic FOLDER"


def protocol_edit(clinic: Clinic, name: str, version: int) -> Edited | None:
    """How a protocol version differs from its frozen copy; None when it does not.

    Raises
    ------
    AftersitError
        The frozen copy can't be read.
    """
    if not protocol_path(clinic.kept_protocols, name, version).is_file():
        return None
    if not protocol_path(clinic.protocols, name, version).is_file():
        return None  # the copy counts
    file = f"protocols/{name}/v{version}.yaml"
    used = load_protocol(clinic.kept_protocols, name, version).model_dump(mode="json")
    try:
        now = load_protocol(clinic.protocols, name, version).model_dump(mode="json")
    except AftersitError as error:
        wrong = getattr(error, "problems", [str(error)])
        return Edited(file, tuple(wrong), put_back_command(name), can_be_read=False)
    lines = differences(used, now)
    return Edited(file, tuple(lines), new_protocol_command(name)) if lines else None


def edited_protocols(clinic: Clinic) -> list[Edited]:
    """Every used protocol version that was edited; a damaged copy is the audit's to tell."""
    found = []
    for folder in sorted(clinic.kept_protocols.glob("*")):
        for version in versions(clinic.kept_protocols, folder.name):
            try:
                edit = protocol_edit(clinic, folder.name, version)
            except AftersitError:
                continue
            found += [edit] if edit else []
    return found


def settings_edit(clinic: Clinic, label: str) -> Edited | None:
    """How a settings version, or its unions of regions, differ from their frozen copies.

    Raises
    ------
    AftersitError
        A frozen copy can't be read.
    """
    if not kept.kept_settings(clinic, label).is_file():
        return None
    try:
        source = kept.settings_source(clinic, label)
    except AftersitError:
        return None  # the copy counts
    used = kept.kept_settings(clinic, label)
    own = kept.regions_source(clinic, label)
    settings, _ = kept.split_label(label)
    file = f"settings {settings}.yaml" + (f" with {own.name}" if own else "")
    before = [_said(used), unions_said(kept.kept_regions(clinic, label))]
    try:
        now = [_said(source), unions_said(own)]
    except InvalidFileError as error:
        wrong = tuple(f"{error.where}: {line}" for line in error.problems)
        return Edited(file, wrong, new_settings_command(settings), can_be_read=False)
    lines = [line for pair in zip(before, now, strict=True) for line in differences(*pair)]
    return Edited(file, tuple(lines), new_settings_command(settings)) if lines else None


def _said(settings: Path) -> dict:
    return Settings.from_yaml(settings).model_dump(mode="json")


def unions_said(path: Path | None) -> dict:
    """A file's unions of regions as plain data; none where there is no file."""
    there = path is not None and path.is_file()
    return Unions.from_yaml(path).model_dump(mode="json") if there else {"unions": {}}


def used_settings(clinic: Clinic) -> list[str]:
    """Settings versions with a frozen copy."""
    names = (p.stem for p in clinic.kept_settings.glob("*.yaml"))
    return sorted(name for name in names if "." not in name)


def edited(clinic: Clinic) -> list[Edited]:
    """Everything used that was edited, for `status` and the night's lines."""
    settings = (settings_edit(clinic, label) for label in used_settings(clinic))
    return [*edited_protocols(clinic), *filter(None, settings)]
