"""The samples of a long BrainVision recording, written in pieces."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

PIECE_SAMPLES = 1 << 16
"""A recording is written in pieces, so that a long one needs no more memory than a short one."""


def add_other_pieces(
    eeg: Path,
    signal: np.ndarray,
    rate_hz: float,
    names: Sequence[str],
    units: str | list[str],
    resolution: float,
    volts_per_unit: float = 1.0,
) -> None:
    """Append all samples after the first piece, as pybv writes them.

    At once it needs several copies of a recording; no other of its files says how long it is.

    Parameters
    ----------
    eeg : Path
        Holds the first piece, written with the same names, units and resolution.
    signal : ndarray, shape (n_channels, n_samples)
        Times `volts_per_unit` in volts, or as it is where the unit is none.
    """
    from pybv import write_brainvision

    with tempfile.TemporaryDirectory(dir=eeg.parent) as place, eeg.open("ab") as file:
        for start in range(PIECE_SAMPLES, signal.shape[1], PIECE_SAMPLES):
            piece = signal[:, start : start + PIECE_SAMPLES]
            write_brainvision(
                data=piece if volts_per_unit == 1.0 else piece * volts_per_unit,
                sfreq=rate_hz,
                ch_names=list(names),
                fname_base="piece",
                folder_out=place,
                overwrite=True,
                resolution=resolution,
                unit=units,
                fmt="binary_float32",
            )
            file.write(Path(place, "piece.eeg").read_bytes())
