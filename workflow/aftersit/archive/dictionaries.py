"""Data dictionaries of the tables in a bag, by column as BIDS writes them, and its sentences."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from aftersit.plain_yaml import load_plain_yaml

TEMPLATES = Path(__file__).parents[3] / "templates" / "archive"
SHARED = ("bandpower", "aperiodic", "spectra", "regions")
"""Tables of `measures/` whose dictionary stands once for all sittings."""


@cache
def _all() -> dict[str, dict]:
    return load_plain_yaml(TEMPLATES / "dictionaries.yaml", "dictionaries.yaml")


@cache
def sentences() -> dict[str, str | list[str] | dict[str, str]]:
    """What a bag says in words outside of its Markdown files; kept for the scan (`folding.py`)."""
    return load_plain_yaml(TEMPLATES / "sentences.yaml", "sentences.yaml")


def dictionary(table: str) -> dict[str, dict]:
    """Column -> what it holds; `Format` is `number`, `integer` or `string`."""
    return _all()[table]


def timeline_dictionary(conditions: Sequence[str]) -> dict[str, dict]:
    """The same of a timeline, which has three columns for each condition."""
    found = dict(dictionary("timeline"))
    for name in conditions:
        for part, told in dictionary("timeline-condition").items():
            found[f"{name}_{part}"] = told | {"Description": f"{told['Description']}: {name}"}
    return found
