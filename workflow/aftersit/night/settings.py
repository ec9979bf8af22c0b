"""How nights run; nothing here changes results."""

from pathlib import Path
from typing import Annotated

from pydantic import Field

from aftersit.closed import Closed

FILE = Path(__file__).parents[3] / "config" / "config.yaml"


class NightSettings(Closed):
    """`config/config.yaml`."""

    cores: Annotated[int, Field(ge=1)]
    settle_s: Annotated[float, Field(ge=0, le=60)]
    check_seconds: Annotated[float, Field(gt=0)]
    check_memory_mb: Annotated[int, Field(ge=1000)]
    job_memory_mb: Annotated[int, Field(ge=1000)]
    step_seconds: Annotated[float, Field(gt=0)]
    step_memory_mb: Annotated[int, Field(ge=1000)]
    disk_per_sitting_mb: Annotated[float, Field(ge=0)]
    disk_per_recorded_mb: Annotated[float, Field(ge=0)]
    disk_reserve_mb: Annotated[int, Field(ge=0)]


def load_night_settings(path: Path = FILE) -> NightSettings:
    """Read `config/config.yaml`; InvalidFileError when it breaks its rules."""
    return NightSettings.from_yaml(path, "config/config.yaml")
