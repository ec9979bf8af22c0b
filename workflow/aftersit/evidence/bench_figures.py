"""Figures of the benches for the page: of tables made here, else those that came along."""

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from aftersit.pages.format import number
from aftersit.plain_yaml import load_plain_yaml

RECORDED = Path(__file__).parents[3] / "shared" / "measured_limits.yaml"
LEVELS_DB = (3, 6, 10)

Figures = dict[str, str]


def figures(bench: Path, *keys: str) -> tuple[Figures, str]:
    """Figures under some keys of `shared/measured_limits.yaml`, and where they come from.

    Parameters
    ----------
    bench : Path
        Folder where `scripts/aftersit bench` leaves its tables.
    keys : str
        Keys of `READERS`.
    """
    found, bases = {}, {}
    for key in keys:
        values, basis = _one(bench, key)
        found |= values
        bases[basis] = None
    return found, "; ".join(bases)


def _one(bench: Path, key: str) -> tuple[Figures, str]:
    name, read = READERS[key]
    command = f"scripts/aftersit bench {name.split('-')[0]}"
    path = bench / f"{name}.tsv"
    values = read(pd.read_csv(path, sep="\t")) if path.is_file() else None
    if values:
        return values, f"bench/{name}.tsv, made here by {command}"
    recorded = load_plain_yaml(RECORDED)[key]
    told = {name: str(value) for name, value in recorded.items()}
    return told, f"{command}, as it ran when this version was made; run it to measure here"


def _head(table: pd.DataFrame) -> Figures | None:
    rows = table[(table["what"] == "contrast error, dB") & (table["measure"] == "sloreta")]
    if rows.empty or rows["median"].isna().all():
        return None
    row = rows.iloc[0]
    return {"median": number(row["median"], 2), "highest": number(row["highest"], 2)}


def _muscle(table: pd.DataFrame) -> Figures:
    rows = table.set_index("muscle")
    free = rows.filter(like="none, sitting", axis=0)["suspect"].iloc[0]
    return {
        "weak": number(rows.loc["3 dB", "suspect"], 0),
        "missed": number(rows.loc["6 dB", "none found"], 0),
        "strong": number(rows.loc["10 dB", "suspect"], 0),
        "wrong": number(free, 0),
    }


def _muscle_power(table: pd.DataFrame) -> Figures:
    rows = table[table["muscle"] == "all kinds"].set_index("level")
    found = {}
    for level in LEVELS_DB:
        found[f"before_{level}"] = number(rows.loc[f"{level} dB", "uncleaned"])
        found[f"after_{level}"] = number(rows.loc[f"{level} dB", "ours"], 2)
    return found


def _electrodes(table: pd.DataFrame) -> Figures:
    rows = table.set_index("fault")["found_percent"]
    names = {"half": "0.5 x its own size", "whole": "1 x its own size",
             "double": "2 x its own size", "pops": "50 uV pops"}  # fmt: skip
    return {key: number(rows[fault], 0) for key, fault in names.items()}


def _drowsy(table: pd.DataFrame) -> Figures:
    found, spells = table["spells found"], table["spells"]
    return {
        "every": number((found * spells).sum() / spells.sum(), 0),
        "lowest": number(found.min(), 0),
        "highest": number(found.max(), 0),
    }


def _reward(table: pd.DataFrame) -> Figures:
    rows = table[table["muscle_db"].isna()].set_index("rise_db")
    found = {}
    for level in (3, 6, 9):
        found[f"kappa_{level}"] = number(rows.loc[level, "kappa_mean"], 2)
        found[f"off_{level}"] = number(abs(rows.loc[level, "bias_points"]))
    return found


def _changes(table: pd.DataFrame) -> Figures:
    covered = table["coverage_percent"]
    nothing = table[table["change_db"] == 0]["found_percent"]
    return {
        "covered_low": number(covered.min()),
        "covered_high": number(covered.max()),
        "false_low": number(nothing.min()),
        "false_high": number(nothing.max()),
    }


def _rest(table: pd.DataFrame) -> Figures:
    row = table[table["recording"] == "all"].iloc[0]
    return {"rest": number(row["false_alarm_percent"])}


def _advice(table: pd.DataFrame) -> Figures | None:
    found = table["within_10_percent"].dropna()
    if found.empty:
        return None
    return {"lowest": number(found.min(), 0), "highest": number(found.max(), 0)}


READERS: dict[str, tuple[str, Callable[[pd.DataFrame], Figures | None]]] = {
    "head": ("regions-summary", _head),
    "muscle": ("cleaning-muscle-verdicts", _muscle),
    "muscle-power": ("cleaning-muscle-errors", _muscle_power),
    "electrodes": ("cleaning-electrodes", _electrodes),
    "drowsy": ("cleaning-drowsy-hits", _drowsy),
    "reward": ("replay-truth", _reward),
    "changes": ("replay-changes", _changes),
    "rest": ("replay-open-rest", _rest),
    "advice": ("replay-advice", _advice),
}
"""Key of the recorded figures -> table of a bench, and what reads it."""
