"""Tables of figures: for people on the terminal, for programs as TSV."""

from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from aftersit.files import write_atomically


@dataclass(frozen=True)
class Table:
    """One table of a bench.

    Attributes
    ----------
    name : str
        Short, for the file's name.
    title : str
        What the figures say, with their units.
    rows : list of dict
        Column to value; a column that a row lacks is empty.
    notes : tuple of str
        How the figures came to be: cases, seeds, sources.
    """

    name: str
    title: str
    rows: list[dict]
    notes: tuple[str, ...] = field(default=())

    @property
    def frame(self) -> pd.DataFrame:
        """The rows as they are written."""
        return pd.DataFrame(self.rows)

    def text(self) -> str:
        """The table for a terminal."""
        body = self.frame.to_string(index=False, na_rep="", float_format=_number)
        return "\n".join([self.title, body, *self.notes])

    def write(self, folder: Path, bench: str) -> Path:
        """Write `<bench>-<name>.tsv`."""
        path = folder / f"{bench}-{self.name}.tsv"
        write_atomically(path, self.frame.to_csv(sep="\t", index=False, na_rep="n/a"))
        return path


def _number(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 100 else f"{value:.0f}"
