"""The open recordings, read straight from their files."""

from pathlib import Path

import mne

from aftersit.clean.carried import ChannelLimits
from aftersit.electrodes import STANDARD_19

OLD_NAMES = {"T3": "T7", "T4": "T8", "T5": "P7", "T6": "P8"}


def read_edf(path: Path) -> tuple[mne.io.BaseRaw, ChannelLimits]:
    """The 19 electrodes, the ECG where there is one, and the filters that the header names."""
    raw = mne.io.read_raw_edf(path, preload=True, verbose="ERROR")
    standard = {name.upper(): name for name in STANDARD_19}
    names = {}
    for label in raw.ch_names:
        bare = label.removeprefix("EEG ").strip(".")
        name = standard.get(OLD_NAMES.get(bare, bare).upper())
        if name:
            names[label] = name
    hearts = [label for label in raw.ch_names if "ECG" in label]
    raw.pick([*names, *hearts])
    raw.rename_channels({**names, **dict.fromkeys(hearts, "ECG")})
    raw.set_channel_types(dict.fromkeys(["ECG"] if hearts else [], "ecg"))
    filtered = "mental" in path.parent.name
    return raw, ChannelLimits(0.5, 45.0, (50.0,)) if filtered else ChannelLimits()
