"""Copies of the settings versions that results rest on, made before their first use.

What a version says is fixed from then on, and with it the clinic's own unions of
regions: the copy counts, and an edited file has no effect until it becomes a new version.
A copy's time of change is always the same, so that it never makes anything run again.
"""

import os
from pathlib import Path

from aftersit.algorithms import split_label
from aftersit.clinic import Clinic
from aftersit.files import write_atomically
from aftersit.night.contents import contents_of_file
from aftersit.night.private import make_read_only
from aftersit.night.register import Register
from aftersit.settings import FOLDER, Settings, unknown_settings

NO_UNIONS = "unions: {}\n"
_LONG_AGO_S = 946684800
"""2000-01-01."""


def settings_source(clinic: Clinic, label: str) -> Path:
    """The file that people edit: the clinic's own, else the shipped one.

    Raises
    ------
    AftersitError
        There is neither.
    """
    settings, _ = split_label(label)
    for folder in (clinic.own_settings, FOLDER):
        if (folder / f"{settings}.yaml").is_file():
            return folder / f"{settings}.yaml"
    raise unknown_settings(settings, clinic.own_settings, FOLDER)


def regions_source(clinic: Clinic, label: str) -> Path | None:
    """The unions of regions of a settings version, as people edit them; None without any."""
    settings, _ = split_label(label)
    own = (clinic.own_settings / f"{settings}.regions.yaml", clinic.root / "regions.yaml")
    return next((path for path in own if path.is_file()), None)


def kept_settings(clinic: Clinic, label: str) -> Path:
    """Where the copy of a settings version lies."""
    return clinic.kept_settings / f"{split_label(label)[0]}.yaml"


def kept_regions(clinic: Clinic, label: str) -> Path:
    """Where the copy of its unions lies."""
    return clinic.kept_settings / f"{split_label(label)[0]}.regions.yaml"


def settings_file(clinic: Clinic, label: str) -> Path:
    """The file that counts for a label: the copy once there is one."""
    kept = kept_settings(clinic, label)
    return kept if kept.is_file() else settings_source(clinic, label)


def regions_file(clinic: Clinic, label: str) -> Path | None:
    """The unions that count for a label; None when there are none."""
    kept = kept_regions(clinic, label)
    return kept if kept.is_file() else regions_source(clinic, label)


def clinic_settings(clinic: Clinic, label: str) -> Settings:
    """What a label says for this clinic; AftersitError when it is unknown or broken."""
    return Settings.from_yaml(settings_file(clinic, label), f"{split_label(label)[0]}.yaml")


def keep_settings(clinic: Clinic, label: str, register: Register) -> None:
    """Copy a settings version and its unions unless they were copied before.

    Each is registered first, and what a crash left undone after its copy is done again.
    """
    regions = regions_source(clinic, label)
    wanted = {
        kept_regions(clinic, label): regions.read_bytes() if regions else NO_UNIONS.encode(),
        kept_settings(clinic, label): settings_source(clinic, label).read_bytes(),
    }
    if not kept_settings(clinic, label).is_file():
        for copy, said in wanted.items():
            register.add(str(copy.relative_to(clinic.root)), contents_of_file(said))
            write_atomically(copy, said)
    for copy in filter(Path.is_file, wanted):
        if copy.stat().st_mtime != _LONG_AGO_S:
            os.utime(copy, (_LONG_AGO_S, _LONG_AGO_S))
        make_read_only(copy)
