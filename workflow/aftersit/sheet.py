"""The sitting sheet: who, what was practised, blocks, notes."""

import datetime as dt
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, ClassVar, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    Tag,
    field_validator,
    model_validator,
)

from aftersit.clock import clock, seconds
from aftersit.closed import Closed
from aftersit.patterns import CODE_PATTERN, NAME_PATTERN


class Practice(StrEnum):
    """Practices, named as in the literature."""

    FOCUSED_ATTENTION = "focused-attention"
    OPEN_MONITORING = "open-monitoring"
    LOVING_KINDNESS = "loving-kindness"
    COMPASSION = "compassion"
    SELF_TRANSCENDING = "automatic-self-transcending"
    QUIET_REST = "quiet-rest"
    OTHER = "other"


class Kind(StrEnum):
    """What a block is."""

    BASELINE = "baseline"
    PRACTICE = "practice"
    BREAK = "break"
    REST = "rest"


class Unpleasant(StrEnum):
    """Coded unpleasant experiences (wording of our own)."""

    NONE = "none"
    ANXIETY = "anxiety"
    LOW_MOOD = "low-mood"
    AGITATION = "agitation"
    UNREALITY = "unreality"
    DIZZINESS = "dizziness"
    HEADACHE = "headache"
    PAIN = "pain"
    UPSETTING_MEMORY = "upsetting-memory"
    SKIN = "skin-irritation"
    OTHER = "other"


def _day(value: object) -> dt.date:
    try:
        return dt.date.fromisoformat(str(value))
    except ValueError:
        raise ValueError("a date is written YYYY-MM-DD") from None


def _one_line(text: str) -> str:
    if any(ord(c) < 32 and c not in "\n\t" for c in text):
        raise ValueError("control characters are not allowed")
    return text


Time = Annotated[float, BeforeValidator(seconds)]
Day = Annotated[dt.date, BeforeValidator(_day)]
Text = Annotated[str, Field(max_length=4000), AfterValidator(_one_line)]
Code = Annotated[str, Field(pattern=CODE_PATTERN)]
ProtocolName = Annotated[str, Field(pattern=NAME_PATTERN)]
Eyes = Literal["open", "closed"]
Rating = Annotated[int, Field(ge=0, le=10)]


class LiveThreshold(Closed):
    """A threshold as the room's own system showed it; a note, never computed with."""

    PRIVATE: ClassVar = frozenset({"condition", "unit"})

    condition: Annotated[str, Field(max_length=80)]
    value: float
    unit: Annotated[str, Field(max_length=40)] = "as shown"


class SheetBlock(Closed):
    """A period of the sitting; what it leaves out it takes from the sheet."""

    PRIVATE: ClassVar = frozenset({"instruction", "remark", "live_thresholds"})

    kind: Kind
    start: Time
    end: Time
    eyes: Eyes | None = None
    protocol: ProtocolName | None = None
    instruction: Text | None = None
    remark: Text | None = None
    live_thresholds: tuple[LiveThreshold, ...] = ()

    @model_validator(mode="after")
    def _ends_after_start(self):
        if self.end <= self.start:
            raise ValueError(f"the block ends at {clock(self.end)}, not after its start")
        return self


class Ratings(Closed):
    """Self-ratings from 0 to 10, before and after, by the client's own words."""

    before: dict[Annotated[str, Field(pattern=NAME_PATTERN)], Rating] = {}
    after: dict[Annotated[str, Field(pattern=NAME_PATTERN)], Rating] = {}


def _list_or_word(value: object) -> str | None:
    if isinstance(value, list | tuple):
        return "list"
    return "word" if value == "from-annotations" else None


Blocks = Annotated[
    Annotated[Literal["from-annotations"], Tag("word")]
    | Annotated[tuple[SheetBlock, ...], Tag("list")],
    Discriminator(
        _list_or_word,
        custom_error_type="blocks",
        custom_error_message="allowed: from-annotations, or a list of blocks",
    ),
]


class Sheet(Closed):
    """`sitting.yaml`; see the README for every key."""

    PRIVATE: ClassVar = frozenset({"client", "instruction", "notes", "message"})

    client: Code
    date: Day | None = None
    practice: Practice
    protocol: ProtocolName
    eyes: Eyes
    blocks: Blocks
    instruction: Text | None = None
    age: Annotated[int, Field(ge=0, le=120)] | None = None
    sex: Literal["female", "male", "other"] | None = None
    handedness: Literal["left", "right", "ambidextrous"] | None = None
    mains_hz: Literal[50, 60] | None = None
    notes: Text | None = None
    message: Text | None = None
    ratings: Ratings = Ratings()
    unpleasant: tuple[Unpleasant, ...] = ()
    not_for_research: bool = False

    @field_validator("blocks")
    @classmethod
    def _blocks_in_order(cls, blocks):
        if blocks == "from-annotations":
            return blocks
        if not blocks:
            raise ValueError("at least one block is needed")
        for number, (one, two) in enumerate(pairwise(blocks), 1):
            if two.start < one.end:
                raise ValueError(
                    f"blocks {number} and {number + 1} overlap or are out of order: "
                    f"{clock(one.start)}-{clock(one.end)} and {clock(two.start)}-{clock(two.end)}"
                )
        return blocks
