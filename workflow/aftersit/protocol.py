"""Protocols: what earns the reward. Versioned, never edited once used."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.sheet import NAME_PATTERN, Practice

Name = Annotated[str, Field(pattern=NAME_PATTERN)]


class RegionPlace(Closed):
    """A region of the template cortex, seen through the inverse solution."""

    region: Name
    hemisphere: Literal["left", "right", "both"] = "both"

    @property
    def key(self) -> str:
        """Name of the region measure: `insula-right`."""
        return f"{self.region}-{self.hemisphere}"


class ElectrodePlace(Closed):
    """A group of electrodes; the measure is their mean power, average reference."""

    electrodes: Annotated[tuple[str, ...], Field(min_length=1)]

    @property
    def key(self) -> str:
        """Name of the sensor measure: `O1+O2`."""
        return "+".join(self.electrodes)


class AbsoluteThreshold(Closed):
    """A value in the measure's own unit."""

    absolute: Annotated[float, Field(gt=0)]


class BaselineThreshold(Closed):
    """Decibels over the measure's level in the baseline block."""

    db_over_baseline: Annotated[float, Field(ge=-30, le=30)]


class Condition(Closed):
    """One place, one band, a direction and a threshold rule."""

    name: Name
    where: RegionPlace | ElectrodePlace
    band_hz: tuple[float, float]
    direction: Literal["above", "below"]
    threshold: AbsoluteThreshold | BaselineThreshold

    @model_validator(mode="after")
    def _band_rises(self):
        low, high = self.band_hz
        if not 0.5 <= low < high:
            raise ValueError("band_hz is [low, high] with 0.5 <= low < high")
        return self


class Timing(Closed):
    """How the conditions become a reward; all in seconds."""

    smoothing_s: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    """Length of the moving mean over band power."""
    update_s: Annotated[float, Field(ge=0.01, le=1)] = 0.125
    """Step at which the conditions are looked at."""
    onset_s: Annotated[float, Field(ge=0, le=10)] = 0.5
    """Conditions must hold this long before the reward starts."""
    release_s: Annotated[float, Field(ge=0, le=10)] = 0.25
    """Conditions must fail this long before the reward ends."""

    @model_validator(mode="after")
    def _smoothing_in_whole_steps(self):
        steps = self.smoothing_s / self.update_s
        if abs(steps - round(steps)) > 1e-6 or round(steps) < 1:
            near = max(1, round(steps)) * self.update_s
            raise ValueError(
                f"smoothing_s must be a whole number of update_s ({self.update_s:g}); "
                f"the nearest is {near:g}"
            )
        return self

    @property
    def smoothing_steps(self) -> int:
        """Update steps in the moving mean."""
        return round(self.smoothing_s / self.update_s)


class Protocol(Closed):
    """`protocols/<name>/v<N>.yaml`."""

    name: Name
    version: Annotated[int, Field(ge=1)]
    title: Annotated[str, Field(max_length=80)]
    purpose: Annotated[str, Field(max_length=600)]
    practices: tuple[Practice, ...]
    literature: Annotated[str, Field(max_length=1200)]
    conditions: Annotated[tuple[Condition, ...], Field(min_length=1)]
    timing: Timing = Timing()

    @model_validator(mode="after")
    def _names_differ(self):
        names = [c.name for c in self.conditions]
        if len(set(names)) < len(names):
            raise ValueError("each condition needs a name of its own")
        return self


def protocol_path(folder: Path, name: str, version: int) -> Path:
    """Where a protocol version lies under a clinic's `protocols/`."""
    return folder / name / f"v{version}.yaml"


def versions(folder: Path, name: str) -> list[int]:
    """Versions of a protocol that a clinic has, rising."""
    stems = [p.stem for p in (folder / name).glob("v*.yaml")]
    return sorted(int(s[1:]) for s in stems if s[1:].isdigit())


def load_protocol(folder: Path, name: str, version: int) -> Protocol:
    """Read a protocol version and check that its file name says the same.

    Raises
    ------
    AftersitError
        Missing, broken, or under another name.
    """
    path = protocol_path(folder, name, version)
    if not path.is_file():
        known = ", ".join(sorted(p.name for p in folder.glob("*") if versions(folder, p.name)))
        raise AftersitError(
            f"protocol '{name}' version {version} does not exist; there are: {known}"
        )
    protocol = Protocol.from_yaml(path, f"protocols/{name}/v{version}.yaml")
    if (protocol.name, protocol.version) != (name, version):
        raise AftersitError(
            f"protocols/{name}/v{version}.yaml calls itself "
            f"{protocol.name} version {protocol.version}"
        )
    return protocol
