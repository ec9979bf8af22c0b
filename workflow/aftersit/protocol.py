"""Protocols: what earns the reward. Versioned, never edited once used."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag, field_validator, model_validator

from aftersit.closed import Closed
from aftersit.electrodes import STANDARD_19, read_label
from aftersit.errors import AftersitError
from aftersit.patterns import NAME_PATTERN
from aftersit.protocol_rules import FixedRule, Rule, by_key
from aftersit.sheet import Practice

Name = Annotated[str, Field(pattern=NAME_PATTERN)]
Band = tuple[float, float]
NARROWEST_HZ = 1.0
"""Least width of a band: spectra beside the replay have lines half a hertz apart."""


class RegionPlace(Closed):
    """A region of the template cortex, seen through the inverse solution."""

    region: Name
    hemisphere: Literal["left", "right", "both"] = "both"
    measure: Literal["sloreta", "selective"] = "sloreta"
    """The plain measure, or the one with the highest purity at the settings' coverage."""

    @property
    def key(self) -> str:
        """Name of the region: `insula-right`."""
        return f"{self.region}-{self.hemisphere}"

    @property
    def measure_key(self) -> str:
        """Name of the measure: the region's, with a mark when it is the selective one."""
        return self.key if self.measure == "sloreta" else f"{self.key}/{self.measure}"


class ElectrodePlace(Closed):
    """A group of electrodes; the measure is their mean power, average reference."""

    electrodes: Annotated[tuple[str, ...], Field(min_length=1)]

    @field_validator("electrodes")
    @classmethod
    def _of_the_cap(cls, electrodes: tuple[str, ...]) -> tuple[str, ...]:
        for number, name in enumerate(electrodes):
            if name not in STANDARD_19:
                raise ValueError(f"there is no electrode '{name}'{_near(name)}")
            if name in electrodes[:number]:
                raise ValueError(f"'{name}' stands there twice, and would count twice")
        return electrodes

    @property
    def key(self) -> str:
        """Name of the sensor measure: `O1+O2`."""
        return "+".join(self.electrodes)


def _near(name: str) -> str:
    """What an unknown electrode may be called here, as an old name or in other letters."""
    known = read_label(name).name
    if known in STANDARD_19:
        return f"; it is called {known} here"
    return f"; the cap's electrodes are {', '.join(STANDARD_19)}"


Place = by_key(region=RegionPlace, electrodes=ElectrodePlace)


class Condition(Closed):
    """One place, one band, a direction and a threshold rule."""

    name: Name
    where: Place
    band_hz: Band
    relative_to_hz: Band | None = None
    """With it the measure is relative power: the band's over this band's, at the same place."""
    direction: Literal["above", "below"]
    threshold: Rule

    @model_validator(mode="after")
    def _bands_rise(self):
        for name in ("band_hz", "relative_to_hz"):
            band = getattr(self, name)
            if band and not 0.5 <= band[0] <= band[1] - NARROWEST_HZ:
                raise ValueError(
                    f"{name} is [low, high] with 0.5 <= low, and {NARROWEST_HZ:g} Hz between them"
                )
        if self.relative_to_hz == self.band_hz:
            raise ValueError("relative_to_hz must be another band than band_hz")
        return self

    @property
    def start_rule(self) -> FixedRule:
        """The threshold rule; of an adaptive one, where it starts."""
        return getattr(self.threshold, "start_rule", self.threshold)

    @property
    def is_adaptive(self) -> bool:
        """Whether the threshold moves by itself."""
        return hasattr(self.threshold, "adaptive")

    @property
    def rests_on_baseline(self) -> bool:
        """Whether the threshold needs a baseline block."""
        return not hasattr(self.start_rule, "absolute")

    @property
    def bands_hz(self) -> tuple[Band, ...]:
        """The bands that must be in the recording."""
        return (self.band_hz, self.relative_to_hz) if self.relative_to_hz else (self.band_hz,)


class AtLeast(Closed):
    """Reward while at least this many conditions are met."""

    at_least: Annotated[int, Field(ge=1)]


def _word_or_group(value: object) -> str:
    return "word" if isinstance(value, str) else "group"


Combine = Annotated[
    Annotated[Literal["all", "any"], Tag("word")] | Annotated[AtLeast, Tag("group")],
    Discriminator(_word_or_group),
]


class ArtefactGate(Closed):
    """No reward while an electrode swings too far, as a live system would hold the sound."""

    limit_uv: Annotated[float, Field(ge=5, le=500)]
    """Largest distance from zero on any electrode, average reference."""
    hold_s: Annotated[float, Field(ge=0, le=10)] = 1.0
    """How long the gate stays shut after the last such swing."""
    band_hz: Band = (1.0, 40.0)
    """Swings are looked for in this band; slow recordings end below it."""

    @model_validator(mode="after")
    def _band_rises(self):
        if not 0.1 <= self.band_hz[0] < self.band_hz[1]:
            raise ValueError("band_hz is [low, high] with 0.1 <= low < high")
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
    warm_up_s: Annotated[float, Field(ge=0, le=300)] = 0.0
    """Start of each practice block in which nothing is rewarded yet."""

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
    combine: Combine = "all"
    """How many conditions must be met at once: all, any one, or `at_least: 2`."""
    timing: Timing = Timing()
    artefact_gate: ArtefactGate | None = None

    @model_validator(mode="after")
    def _names_differ(self):
        names = [c.name for c in self.conditions]
        if len(set(names)) < len(names):
            raise ValueError("each condition needs a name of its own")
        return self

    @model_validator(mode="after")
    def _enough_conditions(self):
        if self.needed > len(self.conditions):
            raise ValueError(f"at_least is {self.needed}, of {len(self.conditions)} conditions")
        return self

    @property
    def needed(self) -> int:
        """How many conditions must be met at once."""
        if isinstance(self.combine, AtLeast):
            return self.combine.at_least
        return len(self.conditions) if self.combine == "all" else 1


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
