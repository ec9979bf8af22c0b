"""The clinic: its settings file and where everything lies in its folder."""

import datetime as dt
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.sheet import Kind

TASK = "sitting"
"""BIDS task label of every recording; the practice stands in sidecar and events."""


class Contact(Closed):
    """Whom a client may call; printed on the handout."""

    who: Annotated[str, Field(max_length=120)]
    phone: Annotated[str, Field(max_length=60)] | None = None
    email: Annotated[str, Field(max_length=120)] | None = None
    urgent: Annotated[str, Field(max_length=200)]


class RewardTrigger(Closed):
    """A channel that stands at a value while the room's system played its sound."""

    channel: Annotated[str, Field(max_length=40)]
    """Its label, as the recording has it."""
    value: int
    """As the recording has it; microvolts for a channel in units of voltage."""


class ClinicSettings(Closed):
    """`clinic.yaml`."""

    name: Annotated[str, Field(max_length=120)]
    contact: Contact
    mains_hz: Literal[50, 60]
    language: Literal["en", "de"] = "en"
    time_zone: str
    settings: Annotated[str, Field(pattern=r"^[a-z0-9]{1,12}$")] = "s1"
    annotations: dict[str, Kind] = {}
    """Text of an annotation with a duration -> kind of the block that it marks."""
    reward_annotation: str | None = None
    """Text of the annotations that log when the room's system played its sound."""
    reward_trigger: RewardTrigger | None = None
    """The same from a channel."""

    @model_validator(mode="after")
    def _one_log(self):
        if self.reward_annotation and self.reward_trigger:
            raise ValueError("rewards are logged by reward_annotation or reward_trigger, not both")
        return self

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        from zoneinfo import ZoneInfo

        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError):
            raise ValueError("not a known time zone; for example Europe/Vienna") from None
        return value


@dataclass(frozen=True, order=True)
class SittingId:
    """Client code and number of the sitting; written `K07/03`."""

    client: str
    number: int

    def __str__(self) -> str:
        return f"{self.client}/{self.label}"

    @property
    def label(self) -> str:
        """The number as folders and BIDS names write it."""
        return f"{self.number:02d}"

    @classmethod
    def parse(cls, text: str) -> "SittingId":
        """Read `K07/03` (or `K07/3`).

        Raises
        ------
        AftersitError
            Anything else.
        """
        match = re.fullmatch(r"([A-Za-z0-9]{2,16})/(\d{1,4})", text)
        if not match or int(match[2]) == 0:
            raise AftersitError(f"'{text}' is no sitting; write CLIENT/NUMBER, for example K07/03")
        return cls(match[1], int(match[2]))


@dataclass(frozen=True)
class Clinic:
    """Where everything lies in a clinic's folder."""

    root: Path

    @property
    def settings_file(self) -> Path:
        return self.root / "clinic.yaml"

    @property
    def inbox(self) -> Path:
        return self.root / "inbox"

    @property
    def set_aside(self) -> Path:
        return self.root / "set-aside"

    @property
    def protocols(self) -> Path:
        return self.root / "protocols"

    @property
    def kept_protocols(self) -> Path:
        """Copies of the versions that results rest on; laid out as `protocols/`."""
        return self.state / "protocols"

    @property
    def own_settings(self) -> Path:
        """Settings versions of the clinic's own, beside the shipped ones."""
        return self.root / "settings"

    @property
    def kept_settings(self) -> Path:
        """Copies of the settings versions that results rest on."""
        return self.state / "settings"

    def today(self) -> dt.date:
        """The day in the clinic's time zone, whatever the machine's is."""
        from zoneinfo import ZoneInfo

        return dt.datetime.now(ZoneInfo(self.read_settings().time_zone)).date()

    @property
    def bids(self) -> Path:
        return self.root / "bids"

    @property
    def derivatives(self) -> Path:
        return self.root / "derivatives"

    @property
    def reports(self) -> Path:
        return self.root / "reports"

    @property
    def state(self) -> Path:
        """Ledger, locks, logs and the workflow's own files."""
        return self.root / ".aftersit"

    def original(self, sitting: SittingId, revision: int) -> Path:
        return self.root / "originals" / sitting.client / sitting.label / f"r{revision}"

    def report(self, sitting: SittingId) -> Path:
        return self.reports / sitting.client / sitting.label

    def read_settings(self) -> ClinicSettings:
        """Read `clinic.yaml`; InvalidFileError or AftersitError when it can't serve."""
        if not self.settings_file.is_file():
            raise AftersitError(f"{self.root} is no clinic: it has no clinic.yaml")
        return ClinicSettings.from_yaml(self.settings_file)


def bids_stem(sitting: SittingId) -> str:
    """`sub-K07_ses-03_task-sitting`."""
    return f"sub-{sitting.client}_ses-{sitting.label}_task-{TASK}"


def eeg_folder(root: Path, sitting: SittingId) -> Path:
    """The folder of a sitting's EEG files under a BIDS root."""
    return root / f"sub-{sitting.client}" / f"ses-{sitting.label}" / "eeg"
