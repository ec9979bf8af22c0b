"""Settings that change results, under one label: cleaning, head model, regions, replay.

Each stage owns its section; the values of a label stand in
`config/settings/<label>.yaml` with the reason beside each.
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
    """Read the settings version with this label.

    Raises
    ------
    AftersitError
        No such version, or a broken one.
    """
    path = FOLDER / f"{label}.yaml"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in FOLDER.glob("*.yaml")))
        raise AftersitError(f"settings version '{label}' does not exist; there are: {known}")
    return Settings.from_yaml(path)
