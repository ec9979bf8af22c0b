"""Tab-separated tables as every stage reads and writes them."""

from pathlib import Path

import pandas as pd


def read_table(path: Path) -> pd.DataFrame:
    """A table whose missing values are written `n/a` (BIDS), and nothing else is missing."""
    return pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)


def as_tsv(table: pd.DataFrame) -> str:
    """As BIDS writes tables: tabs, line feeds, `n/a` where there is no value.

    Numbers that are not whole have 6 significant digits. pandas writes the same, in three
    times the time.
    """
    columns = [_cells(table[name]) for name in table.columns]
    lines = ["\t".join(table.columns), *map("\t".join, zip(*columns, strict=True))]
    return "\n".join(lines) + "\n"


def _cells(column: pd.Series) -> list[str]:
    if column.dtype.kind == "f":
        return ["n/a" if value != value else f"{value:.6g}" for value in column.tolist()]
    return [
        "n/a" if missing else str(value)
        for value, missing in zip(column, column.isna(), strict=True)
    ]
