"""Signals that are read when they are needed: a long recording is not held twice."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from aftersit.replay.run import Signal

HELD_BYTES = 600_000_000
"""Signals of one sitting that together are larger are in memory one at a time."""


@dataclass
class Shelf:
    """Samples of the files of one sitting, as far as they fit."""

    held: dict[Path, np.ndarray] = field(default_factory=dict)

    def samples(self, vhdr: Path, names: tuple[str, ...]) -> np.ndarray:
        """Samples in volts, shape (n_names, n_samples); read anew once they had to go."""
        if vhdr not in self.held:
            import mne

            raw = mne.io.read_raw_brainvision(vhdr, verbose="ERROR")
            size = 8 * len(names) * raw.n_times
            if size + sum(one.nbytes for one in self.held.values()) > HELD_BYTES:
                self.held.clear()
            read = raw.get_data(picks=list(names)) if names else np.empty((0, raw.n_times))
            self.held[vhdr] = read
        return self.held[vhdr]


@dataclass(frozen=True)
class SignalOnDisk(Signal):
    """A `Signal` whose samples lie in a file; `samples` of the constructor means nothing."""

    vhdr: Path = Path()
    shelf: Shelf = field(default_factory=Shelf)

    def _read(self) -> np.ndarray:
        return self.shelf.samples(self.vhdr, self.names)

    samples = property(_read, lambda self, _: None)
