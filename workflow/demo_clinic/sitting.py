"""How people, sittings and what goes wrong are described."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from demo_clinic.spans import Span

Spec = dict[str, object]


@dataclass(frozen=True)
class Person:
    """An invented client; name and birth date stand in recording headers only, to be scrubbed."""

    name: str
    born: dt.date
    sex: Literal["F", "M"]
    consent: tuple[bool, dt.date]
    alpha_hz: float
    alpha_uv2: float
    """Power at O1/O2 with closed eyes, average reference."""
    background_uv2: float
    """Power in 30-45 Hz, mean over electrodes, average reference."""


@dataclass(frozen=True)
class Pattern:
    """How a condition comes and goes in a block."""

    on_s: float
    off_s: float
    margin_db: float = 2.5
    """How far past its threshold a condition gets; negative: it never gets there."""


@dataclass(frozen=True)
class Block:
    """A block of the sheet, and what the simulated person does in it.

    One pattern is shared by all conditions of the protocol; with several, each
    condition goes by its own. None: nothing beyond the background.
    """

    kind: str
    start: str
    end: str
    patterns: tuple[Pattern | None, ...] = (None,)
    eyes: str | None = None
    instruction: str | None = None
    remark: str | None = None
    clench: Pattern | None = None
    """Jaw tension in bursts; `margin_db` is not used."""
    thresholds: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Faults:
    """What goes wrong in a recording; sizes in uV (root mean square unless a pop)."""

    mains_uv: float = 2.0
    drift_uv: float = 15.0
    pops: tuple[tuple[str, float, float], ...] = ()
    """Electrode, second, size."""
    dead: str | None = None
    noisy: str | None = None
    bad: tuple[str, ...] = ()
    """Electrodes with hardly any contact."""
    movement: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Sitting:
    """An upload of the demo clinic."""

    upload: str
    client: str
    starts: dt.datetime
    minutes: float
    rate_hz: int
    file: Literal["edf", "edf+", "bdf", "brainvision"]
    practice: str
    protocol: str
    eyes: str
    blocks: tuple[Block, ...]
    sheet: Spec
    labels: Literal["plain", "old", "clutter", "old-clutter"] = "plain"
    extra: tuple[Literal["ECG", "EOG"], ...] = ()
    annotated: bool = False
    """Blocks and the room's sound stand as annotations in the recording."""
    tension_uv2: dict[str, float] = field(default_factory=dict)
    """Constant muscle tension: power in 30-45 Hz at the electrode that hears most."""
    clench_uv2: float = 60.0
    drowsy: tuple[Span, ...] = ()
    faults: Faults = Faults()
    blinks_per_minute: float = 15.0
    """With open eyes; a tenth of it with closed ones."""
    story: str = ""
    """What the sitting is there to show."""
