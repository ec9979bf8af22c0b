"""Muscle in the record: verdicts with their reasons, per block and per bout."""

from typing import Literal

from aftersit.closed import Closed

MuscleVerdict = Literal["no-sign-found", "suspect", "cant-tell"]
MuscleReason = Literal[
    "share-of-measure",
    "fast-level",
    "flat-spectrum",
    "moves-with-edge",
    "no-fast-evidence",
    "too-short",
]


class MuscleFinding(Closed):
    """What the evidence says of one measure over some seconds, before cleaning."""

    verdict: MuscleVerdict
    score: float | None = None
    """0..1; see `aftersit.muscle.verdict`."""
    share: float | None = None
    """Part of the measure that muscle makes."""
    level_db: float | None = None
    """Power in 30-45 Hz over that of a scalp without muscle, as published."""
    slope: float | None = None
    """Of the density above 20 Hz, as a power of frequency."""
    follows: float | None = None
    """Correlation with power above the band at the edge of the scalp, over the block."""
    reasons: tuple[MuscleReason, ...] = ()


class BlockMuscle(Closed):
    """One condition in one block."""

    block: int
    condition: str
    finding: MuscleFinding
    earns: bool = True
    """Whether muscle could earn this condition; not where it asks for less."""


class BoutMuscle(Closed):
    """One bout of the cleaned replay: the finding that looks most like muscle.

    Conditions that muscle could not earn have no say, unless there are no others.
    """

    block: int
    start_s: float
    condition: str
    finding: MuscleFinding


class MuscleAccount(Closed):
    """All findings of a sitting."""

    upper_to_hz: float | None
    """How far up the recording shows muscle beyond the brain's rhythms; None: not at all."""
    directions: int
    """How many directions were taken out of what is fast."""
    blocks: tuple[BlockMuscle, ...] = ()
    bouts: tuple[BoutMuscle, ...] = ()

    @property
    def earning(self) -> tuple[BlockMuscle, ...]:
        """Findings of the conditions that muscle could earn; all where there are none."""
        return tuple(f for f in self.blocks if f.earns) or self.blocks

    def of_block(self, block: int) -> MuscleVerdict:
        """The worst verdict of a block's earning conditions; suspect before cant-tell."""
        return worst([f.finding.verdict for f in self.earning if f.block == block])


def worst(verdicts: list[MuscleVerdict]) -> MuscleVerdict:
    """Suspect if any is; no-sign-found only if all are and there is one."""
    if "suspect" in verdicts:
        return "suspect"
    return "no-sign-found" if verdicts and set(verdicts) == {"no-sign-found"} else "cant-tell"
