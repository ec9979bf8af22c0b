"""A cleaned sitting made up of noise and tones, as cleaning would leave it."""

import json
from pathlib import Path

import mne
import numpy as np

from aftersit.blocks import Block, to_events
from aftersit.electrodes import STANDARD_19
from aftersit.quality import BadSpan, Carried, Electrode, Quality
from aftersit.sheet import Kind

RATE_HZ = 200.0
STEM = "sub-K07_ses-02_task-sitting"
GOOD = [name for name in STANDARD_19 if name not in ("F8", "P7")]
BLOCKS = [
    Block(1, Kind.BASELINE, 0.0, 20.0, "closed", "calm"),
    Block(2, Kind.PRACTICE, 20.0, 61.0, "closed", "calm"),
    Block(3, Kind.BREAK, 61.0, 62.5, "open", "calm"),
]
BAD_SPANS = [(30.0, 33.25), (59.5, 99.0)]


def quality(high_hz: float = 40.0) -> Quality:
    """The account of a recording that carries 0.5 Hz to `high_hz`."""
    nothing = tuple((0.0,) * len(GOOD) for _ in GOOD)
    return Quality(
        rate_hz=RATE_HZ,
        duration_s=63.0,
        mains_hz=50.0,
        carried=Carried(low_hz=0.5, high_hz=high_hz),
        electrodes=tuple(Electrode(name=name, good=name in GOOD) for name in STANDARD_19),
        bad_spans=tuple(BadSpan(start_s=a, stop_s=b, reason="movement") for a, b in BAD_SPANS),
        components=(),
        keep=nothing,
        muscle=nothing,
        eyes=nothing,
        usable_s=50.0,
        scorable=True,
    )


def signal_uv() -> np.ndarray:
    """Potentials of all 19: noise unlike in size, 10 Hz at Oz's neighbours, chaos in bad spans."""
    rng = np.random.default_rng(17)
    time_s = np.arange(int(63 * RATE_HZ)) / RATE_HZ
    signal = rng.normal(size=(19, time_s.size)) * np.linspace(2, 9, 19)[:, None]
    signal[-2:] += 12 * np.sin(2 * np.pi * 10 * time_s)
    for start, stop in BAD_SPANS:
        signal[:, (time_s >= start) & (time_s < stop)] *= 50
    return signal


def write_sitting(folder: Path, **of_quality) -> tuple[Path, Path]:
    """Write the cleaned recording with its sidecar, and the events; their paths."""
    clean = folder / f"{STEM}_desc-clean_eeg.vhdr"
    info = mne.create_info(list(STANDARD_19), RATE_HZ, "eeg")
    raw = mne.io.RawArray(signal_uv() * 1e-6, info, verbose="ERROR")
    mne.export.export_raw(clean, raw, overwrite=True, verbose="ERROR")
    sidecar = {"TaskName": "sitting", "Quality": quality(**of_quality).model_dump(mode="json")}
    clean.with_suffix(".json").write_text(json.dumps(sidecar))
    events = folder / f"{STEM}_events.tsv"
    to_events(BLOCKS).to_csv(events, sep="\t", index=False)
    return clean, events
