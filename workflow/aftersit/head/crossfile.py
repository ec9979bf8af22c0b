"""Cross-spectra of a sitting's blocks in one small file, so that any band and measure follows."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum


def save_cross(
    spectra: Sequence[BlockSpectrum],
    good: Sequence[str],
    limits_hz: tuple[float, float],
    path: Path,
) -> None:
    """Write the real part (all that quadratic measures hear) of blocks that have segments.

    Parameters
    ----------
    spectra : sequence of BlockSpectrum
        V^2/Hz.
    good : sequence of str
        Electrodes, in the order of rows and columns.
    limits_hz : tuple of float
        Range that is kept, both ends included. Single precision: 7 digits.
    path : Path
        `.npz`; the same spectra give the same bytes.
    """
    kept = [item for item in spectra if item.spectrum.n_segments > 0]
    rows, columns = np.triu_indices(len(good))
    frequency = kept[0].spectrum.frequency_hz if kept else np.empty(0)
    inside = (frequency >= limits_hz[0]) & (frequency <= limits_hz[1])
    density = [item.spectrum.density[inside][:, rows, columns].real for item in kept]
    save_arrays(
        path,
        {
            "good": np.array(good, dtype=str),
            "block": np.array([item.block for item in kept], dtype=int),
            "frequency_hz": frequency[inside],
            "density": np.array(density, dtype=np.float32),
            "n_segments": np.array([item.spectrum.n_segments for item in kept], dtype=int),
            "seconds": np.array([item.spectrum.seconds for item in kept], dtype=float),
            "dof": np.array([item.spectrum.dof for item in kept], dtype=float),
        },
    )


def load_cross(path: Path) -> tuple[list[BlockSpectrum], tuple[str, ...]]:
    """Read what `save_cross` wrote: the blocks' spectra and the electrodes.

    Raises
    ------
    AftersitError
        The file is missing or is no such archive.
    """
    arrays = load_arrays(path)
    good = tuple(arrays["good"].tolist())
    rows, columns = np.triu_indices(len(good))
    found = []
    for i, block in enumerate(arrays["block"].tolist()):
        density = np.empty((len(arrays["frequency_hz"]), len(good), len(good)))
        density[:, rows, columns] = density[:, columns, rows] = arrays["density"][i]
        spectrum = CrossSpectrum(
            frequency_hz=arrays["frequency_hz"],
            density=density,
            n_segments=int(arrays["n_segments"][i]),
            seconds=float(arrays["seconds"][i]),
            dof=float(arrays["dof"][i]),
        )
        found.append(BlockSpectrum(block, spectrum))
    return found, good
