"""Small invented recordings with a known truth, as the checks use them too."""

from aftersit.evidence.simulated import (
    NAMES,
    SETTINGS,
    Recording,
    band_power,
    blinks,
    change_db,
    field,
    pink,
    positions,
    quiet,
)

__all__ = [
    "NAMES",
    "SETTINGS",
    "Recording",
    "band_power",
    "blinks",
    "change_db",
    "field",
    "pink",
    "positions",
    "quiet",
]
