"""A recording of three hours at 500 Hz: what each stage needs of memory."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from aftersit.bench.night_clinic import add_upload, make_clinic, signal_uv
from aftersit.bench.night_sitting import nightly, sitting_rows, warm_up
from aftersit.bench.table import Table
from aftersit.clinic import SittingId

MINUTES, QUICK_MINUTES, RATE_HZ = 180, 6, 500.0
PIECE_MIN, SEED = 6, 70300
LIMIT_MB = 2000


def long_table(quick: bool, sizes: tuple[int, ...] = ()) -> Iterator[Table]:
    """Peak memory by stage; `sizes` are minutes, a multiple of six."""
    for minutes in sizes or (QUICK_MINUTES if quick else MINUTES,):
        with tempfile.TemporaryDirectory() as folder:
            clinic = make_clinic(Path(folder) / "clinic")
            warm_up(clinic)
            add_upload(clinic, 1, minutes, long_signal_uv(minutes))
            rows = sitting_rows(clinic, SittingId("N000", 2), nightly(clinic))
        title = f"A sitting of {minutes:g} minutes at {RATE_HZ:g} Hz, 19 electrodes"
        note = f"Peaks of a step include the imports that it shares. Limit: {LIMIT_MB} MB a step."
        yield Table("long", title, rows, (note,))


def long_signal_uv(minutes: int) -> np.ndarray:
    """Pieces of one sitting, each with noise of its own; shape (19, n_samples)."""
    piece = signal_uv(1, PIECE_MIN, RATE_HZ).astype(np.float32)
    rng = np.random.default_rng(SEED)
    pieces = [piece + rng.normal(0, 0.5, piece.shape) for _ in range(minutes // PIECE_MIN)]
    return np.concatenate(pieces, axis=1, dtype=np.float32)
