"""Tab-separated tables as every stage reads them."""

from pathlib import Path

import pandas as pd


def read_table(path: Path) -> pd.DataFrame:
    """A table whose missing values are written `n/a` (BIDS), and nothing else is missing."""
    return pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)
