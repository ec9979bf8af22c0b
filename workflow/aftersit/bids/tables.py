"""Tab-separated tables of raw BIDS, as text."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from aftersit.blocks import REWARD_LOGGED, Block, to_events
from aftersit.electrodes import reference_in_words
from aftersit.intake.recording import Channel, Recording

MISSING = "n/a"

CHANNEL_COLUMNS = (
    "name",
    "type",
    "units",
    "description",
    "sampling_frequency",
    "reference",
    "low_cutoff",
    "high_cutoff",
    "notch",
    "status",
    "status_description",
)

DESCRIPTIONS = {
    "EEG": "scalp electrode",
    "ECG": "electrocardiogram",
    "EOG": "electrooculogram",
    "EMG": "electromyogram",
    "TRIG": "trigger",
    "MISC": "channel beside the scalp electrodes",
}


def tsv(columns: Sequence[str], rows: Iterable[Sequence]) -> str:
    """A table as BIDS wants it: tabs, line feeds, `n/a` for what is missing."""
    lines = [columns, *rows]
    return "".join("\t".join(cell(value) for value in line) + "\n" for line in lines)


def cell(value: object) -> str:
    """One value; decimal numbers with at most 6 places and no trailing zeros."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return MISSING
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return str(value)


def read_tsv(text: str) -> list[dict[str, str]]:
    """Rows of a table that `tsv` wrote."""
    lines = [line.split("\t") for line in text.splitlines()]
    return [dict(zip(lines[0], line, strict=True)) for line in lines[1:]]


def channels_tsv(recording: Recording) -> str:
    """`_channels.tsv`; filters are those that the recording's header states."""
    return tsv(
        CHANNEL_COLUMNS, (_channel_row(channel, recording) for channel in recording.channels)
    )


def _channel_row(channel: Channel, recording: Recording) -> list:
    filters = channel.filters
    return [
        channel.name,
        channel.kind,
        "µV" if channel.is_volt else None,
        DESCRIPTIONS[channel.kind],
        recording.rate_hz,
        reference_in_words(recording.reference) if channel.kind == "EEG" else None,
        filters.highpass_hz,
        filters.lowpass_hz,
        _notch(filters.notches_hz),
        "bad" if channel.flat else "good",
        "flat" if channel.flat else None,
    ]


def _notch(frequencies: tuple[float, ...]) -> float | str | None:
    if len(frequencies) > 1:
        return "[" + ", ".join(cell(f) for f in frequencies) + "]"
    return frequencies[0] if frequencies else None


def events_tsv(blocks: Sequence[Block], rewards: Sequence[tuple[float, float]]) -> str:
    """`_events.tsv`: the blocks, and rewards that the room's system logged (onset, duration).

    Of rewards with one onset the longest counts.
    """
    table = to_events(list(blocks))
    longest: dict[float, float] = {}
    for onset, duration in rewards:
        longest[onset] = max(duration, longest.get(onset, duration))
    logged = pd.DataFrame(
        {
            "onset": list(longest.keys()),
            "duration": list(longest.values()),
            "trial_type": REWARD_LOGGED,
        }
    )
    rows: list[Mapping] = [*table.to_dict("records"), *logged.to_dict("records")]
    rows.sort(key=lambda row: row["onset"])  # a stable sort: a block before its first reward
    return tsv(list(table.columns), ([row.get(c) for c in table.columns] for row in rows))


def scans_tsv(file: str, date: dt.date, start: dt.datetime | None) -> str:
    """`_scans.tsv`: the sitting's day and the recording's local time (midnight when not known)."""
    time = start.time().replace(microsecond=0) if start else dt.time()
    acquired = dt.datetime.combine(date, time).isoformat()
    return tsv(["filename", "acq_time"], [[file, acquired]])
