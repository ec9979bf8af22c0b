"""Blocks as every stage after intake sees them: resolved, and free of notes."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from aftersit.sheet import Kind, Sheet, SheetBlock
from aftersit.tsv import read_table


@dataclass(frozen=True)
class Block:
    """A period of a sitting with nothing left to inherit.

    `index` counts from 1 over all blocks of the sitting; times are seconds
    from the first sample of the recording; the block holds [start_s, stop_s).
    """

    index: int
    kind: Kind
    start_s: float
    stop_s: float
    eyes: str
    protocol: str


def resolve(sheet: Sheet, blocks: tuple[SheetBlock, ...]) -> list[Block]:
    """Fill what each block leaves out from the sheet."""
    return [
        Block(i, b.kind, b.start, b.end, b.eyes or sheet.eyes, b.protocol or sheet.protocol)
        for i, b in enumerate(blocks, 1)
    ]


def to_events(blocks: list[Block]) -> pd.DataFrame:
    """BIDS events: onset, duration, trial_type and the columns `block`, `eyes`, `protocol`."""
    return pd.DataFrame(
        {
            "onset": [b.start_s for b in blocks],
            "duration": [round(b.stop_s - b.start_s, 6) for b in blocks],
            "trial_type": [b.kind.value for b in blocks],
            "block": [b.index for b in blocks],
            "eyes": [b.eyes for b in blocks],
            "protocol": [b.protocol for b in blocks],
        }
    )


REWARD_LOGGED = "reward-logged"
"""`trial_type` of a reward that the room's own system logged."""


def rewards_from_events(path: Path) -> tuple[tuple[float, float], ...]:
    """Start and stop, in seconds, of the rewards that the room's own system logged."""
    table = pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)
    logged = table[table["trial_type"] == REWARD_LOGGED]
    return tuple((float(r.onset), float(r.onset + r.duration)) for r in logged.itertuples())


def from_events(path: Path) -> list[Block]:
    """Blocks from a BIDS `_events.tsv`; rows that are no blocks are passed over."""
    table = read_table(path)
    rows = table[table["trial_type"].isin([k.value for k in Kind])]
    return [
        Block(
            int(row.block),
            Kind(row.trial_type),
            float(row.onset),
            float(row.onset + row.duration),
            str(row.eyes),
            str(row.protocol),
        )
        for row in rows.itertuples()
    ]
