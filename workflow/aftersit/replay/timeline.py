"""The timeline of one replay: a row for each decision."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from aftersit.files import write_atomically
from aftersit.replay import logic
from aftersit.tsv import as_tsv

OUTSIDE, UNKNOWN, BAD, WARM_UP, GATED, NO_REWARD, REWARD = range(7)
STATE_NAMES = ("outside", "unknown", "bad", "warm-up", "gated", "no-reward", "reward")
"""Names of the states in files: outside scored blocks; filters not settled, or no
decision yet; in a bad span; in the protocol's warm-up; held by its artefact gate;
known without and with reward."""


@dataclass(frozen=True)
class Timeline:
    """Decisions of one replay; row k holds from `times_s[k]` to the next.

    Attributes
    ----------
    times_s : ndarray, shape (n_rows,)
    duration_s : float
        End of the last row.
    block : ndarray of int, shape (n_rows,)
        Index of the block that the decision lies in, 0 for none.
    state : ndarray of int8, shape (n_rows,)
        Codes as in `STATE_NAMES`.
    names : tuple of str
        Conditions, in the protocol's order.
    directions : tuple of str
        `above` or `below` for each.
    value, threshold : ndarray, shape (n_conditions, n_rows)
        In each condition's unit; NaN where not known.
    met : ndarray of bool, shape (n_conditions, n_rows)
        False where not known.
    needed : int
        How many conditions must be met at once.
    swung : ndarray of bool, shape (n_rows,)
        See `Values.swung`.
    """

    times_s: np.ndarray
    duration_s: float
    block: np.ndarray
    state: np.ndarray
    names: tuple[str, ...]
    directions: tuple[str, ...]
    value: np.ndarray
    threshold: np.ndarray
    met: np.ndarray
    needed: int
    swung: np.ndarray

    @property
    def row_s(self) -> np.ndarray:
        """Seconds that each row lasts."""
        return np.diff(self.times_s, append=self.duration_s)

    def table(self) -> pd.DataFrame:
        """Columns as in the file; NaN (or None for `met`) where not known."""
        names = np.array(STATE_NAMES, dtype=object)
        table = {
            "time_s": self.times_s,
            "block": self.block,
            "state": names[self.state],
            "deciding": self._deciding(),
            "swung": self.swung.astype(float),
        }
        for i, name in enumerate(self.names):
            known = ~np.isnan(self.value[i]) & ~np.isnan(self.threshold[i])
            table[f"{name}_value"] = self.value[i]
            table[f"{name}_threshold"] = self.threshold[i]
            table[f"{name}_met"] = np.where(known, self.met[i], np.nan)
        return pd.DataFrame(table)

    @property
    def calm(self) -> np.ndarray:
        """Values that a threshold may rest on, shape of `value`; NaN for the others."""
        return np.where(self.swung, np.nan, self.value)

    @property
    def unrewarded(self) -> np.ndarray:
        """Known time without reward, shape (n_rows,)."""
        return self.state == NO_REWARD

    @property
    def known(self) -> np.ndarray:
        """Where it is known whether there was reward, shape (n_rows,)."""
        return (self.state == NO_REWARD) | (self.state == REWARD)

    def lost_rows(self, uncleaned: "Timeline") -> tuple[np.ndarray, np.ndarray]:
        """Rows that the uncleaned replay rewards in blocks that both score, and which are lost.

        A block that only one of them scores can't be held against the other.

        Returns
        -------
        ndarray of int, shape (n,)
        ndarray of bool, shape (n,)
            Whether this replay does not reward them.
        """
        n = min(len(self.state), len(uncleaned.state))
        rows = np.flatnonzero((uncleaned.state[:n] == REWARD) & (self.state[:n] != OUTSIDE))
        return rows, self.state[rows] != REWARD

    @property
    def in_the_way(self) -> np.ndarray:
        """Conditions whose flip alone would have opened the gate, shape of `met`."""
        shut = ~logic.gate(self.met, self.needed)
        return logic.deciding(self.met, self.needed) & shut & self.unrewarded

    def _deciding(self) -> np.ndarray:
        """Names of the conditions in the way; `several` where no single one was."""
        short = self.unrewarded & ~logic.gate(self.met, self.needed)
        found = np.where(short, "several", "").astype(object)
        for name, rows in zip(self.names, self.in_the_way, strict=True):
            found[rows] = [name if t == "several" else f"{t}|{name}" for t in found[rows]]
        return found


def write_timeline(table: pd.DataFrame, path: Path) -> None:
    """Write as TSV: times with 4 decimals, values with 6 significant digits, n/a for unknown.

    `block` is n/a outside all blocks.
    """
    texts = {
        name: list(map(text_of, table[name].tolist()))
        for name, text_of in _TEXTS.items()
        if name in table
    }
    write_atomically(path, as_tsv(table.assign(**texts)))


_TEXTS = {
    "time_s": "{:.4f}".format,
    "block": lambda block: str(block) if block else "n/a",
    "deciding": lambda names: names or "n/a",
}
"""How columns are written that are no numbers of six digits."""
