"""Settings that change results, under one label: cleaning, head model, regions, replay.

Each stage owns its section; the values of a label stand in
`config/settings/<label>.yaml` with the reason beside each, or in the clinic's own
`settings/<label>.yaml`. From its first use on a clinic's copy counts; see
`night.kept_settings`.
"""

from pathlib import Path

from pydantic import Field

from aftersit.clean.settings import CleanSettings
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.head.settings import HeadSettings
from aftersit.intake.settings import IntakeSettings
from aftersit.replay.settings import ReplaySettings

FOLDER = Path(__file__).parents[2] / "config" / "settings"


class Settings(Closed):
    """One settings version."""

    seed: int = Field(ge=0)
    intake: IntakeSettings
    clean: CleanSettings
    head: HeadSettings
    replay: ReplaySettings


def load_settings(label: str) -> Settings:
    """Read the settings version with this label, as shipped.

    Raises
    ------
    AftersitError
        No such version, or a broken one.
    """
    path = FOLDER / f"{label}.yaml"
    if not path.is_file():
        raise unknown_settings(label, FOLDER)
    return Settings.from_yaml(path)


def read_settings(path: Path) -> Settings:
    """Read a settings version's file; AftersitError when it is missing or broken."""
    if not path.is_file():
        raise unknown_settings(path.stem, path.parent)
    return Settings.from_yaml(path)


def unknown_settings(label: str, *folders: Path) -> AftersitError:
    """The error that names what there is."""
    found = {p.stem for folder in folders for p in folder.glob("*.yaml")}
    known = ", ".join(sorted(name for name in found if "." not in name))
    return AftersitError(f"settings version '{label}' does not exist; there are: {known}")
