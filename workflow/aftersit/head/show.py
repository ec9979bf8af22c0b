"""The list of regions as the command line shows it."""

import textwrap
from collections.abc import Callable, Sequence
from difflib import get_close_matches

import pandas as pd

from aftersit import tsv
from aftersit.electrodes import STANDARD_19, read_label
from aftersit.errors import AftersitError
from aftersit.head.kept import Model, kept_measures
from aftersit.head.measures import RegionMeasures
from aftersit.head.model import Head, build_head, load_head, save_head
from aftersit.head.regions import region_measures

WIDTH = 100
NOTES = (
    "Seen from outside, no measure is a place: each is a direction of view. cm2: area in the "
    "template; centre: mm in MNI305, right, front, up. When all cortex is equally active: limit, "
    "percent of a measure that the region can give at most, whatever the filter; purity, percent "
    "that it gives; covers, percent of its area that is heard. noise: dB, how much worse brain "
    "stands against electrode noise than at an electrode. side: dB, own side over the other. "
    "Plain columns: the sLORETA measure; sel.: the selective one."
)


def served(electrodes: Sequence[str], without: Sequence[str]) -> tuple[str, ...]:
    """Electrodes by their 10-10 names, less those that are left out.

    Raises
    ------
    AftersitError
        A name of none, or one left out that was not there.
    """
    names, left = (tuple(_electrode(name) for name in part) for part in (electrodes, without))
    absent = [name for name in left if name not in names]
    if absent:
        raise AftersitError(f"{', '.join(absent)} can't be left out: not among {', '.join(names)}")
    return tuple(name for name in names if name not in left)


def _electrode(name: str) -> str:
    found = read_label(name)
    if found.kind != "EEG":
        raise AftersitError(
            f"'{name}' is no electrode of the 10-10 system; for example: Fz, T7, PO3"
        )
    return found.name


def measured(
    model: Model, electrodes: Sequence[str], say: Callable[[str], None]
) -> tuple[Head, RegionMeasures]:
    """Head and measures for some electrodes; what is not kept yet is made.

    Parameters
    ----------
    model : Model
        Of the standard montage.
    electrodes : sequence of str
        Any of the 10-10 system.
    say : callable
        Told when something takes a while.

    Raises
    ------
    AftersitError
        Electrodes that can't serve.
    """
    if not set(electrodes) <= set(STANDARD_19):
        say("solving the head model for these electrodes; some 15 s")
        head = build_head(model.settings, tuple(electrodes))
        return head, region_measures(head, electrodes, model.settings, model.regions)
    if not model.head.is_file():
        say("building the head model; some 15 s, once")
        save_head(build_head(model.settings), model.head)
    head = load_head(model.head)
    if not model.plausible.is_file():
        return head, region_measures(head, electrodes, model.settings, model.regions)
    return head, kept_measures(model, electrodes)[0]


def chosen_rows(table: pd.DataFrame, wanted: Sequence[str]) -> pd.DataFrame:
    """Rows of the regions wanted, by name or key; all when none is named.

    Raises
    ------
    AftersitError
        A name that is neither.
    """
    if not wanted:
        return table
    unknown = set(wanted) - set(table["region"]) - set(table["key"])
    if unknown:
        known = table["region"].unique()
        near = [name for one in sorted(unknown) for name in get_close_matches(one, known, n=2)]
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise AftersitError(
            f"there is no region {', '.join(sorted(unknown))}{hint}; there are: {', '.join(known)}"
        )
    return table[table["region"].isin(wanted) | table["key"].isin(wanted)]


def as_tsv(table: pd.DataFrame) -> str:
    """The list for programs: all columns, shares from 0 to 1."""
    return tsv.as_tsv(table).rstrip()


def too_few(electrodes: Sequence[str], at_least: int) -> str | None:
    """A caution where intake would refuse a recording that has these electrodes alone."""
    count = sum(name in STANDARD_19 for name in electrodes)
    if count >= at_least:
        return None
    return (
        f"CAUTION: {count} of the standard electrodes are too few to measure a region; intake "
        f"takes recordings with {at_least} or more, so no sitting will have these figures"
    )


def as_text(table: pd.DataFrame, electrodes: Sequence[str]) -> str:
    """The list for a terminal."""
    places = table[["x_mm", "y_mm", "z_mm"]]
    centre = [_place(row) for row in places.to_numpy()]
    shown = pd.DataFrame(
        {
            "region": table["title"],
            "side": table["hemisphere"],
            "cm2": _whole(table["area_mm2"] / 100),
            "centre": centre,
            "limit": _percent(table["limit"]),
            "purity": _percent(table["purity"]),
            "covers": _percent(table["coverage"], 0),
            "noise": _db(table["noise_gain_db"]),
            "side dB": _db(table["other_side_db"]),
            "sel. purity": _percent(table["selective_purity"]),
            "sel. covers": _percent(table["selective_coverage"], 0),
            "sel. noise": _db(table["selective_noise_gain_db"]),
            "also hears (percent)": table["neighbours"].map(_neighbours),
        }
    )
    heading = f"{len(electrodes)} electrodes: {', '.join(electrodes)}"
    notes = textwrap.wrap(NOTES, WIDTH)
    return "\n".join([heading, "", shown.to_string(index=False), "", *notes])


def _place(row) -> str:
    return "-" if row[0] != row[0] else " ".join(f"{value:.0f}" for value in row)


def _whole(values: pd.Series) -> list[str]:
    return [f"{value:.0f}" for value in values]


def _percent(shares: pd.Series, digits: int = 1) -> list[str]:
    return [f"{100 * share:.{digits}f}" for share in shares]


def _db(values: pd.Series) -> list[str]:
    return ["-" if value != value else f"{round(value, 1) + 0.0:.1f}" for value in values]


def _neighbours(text: str) -> str:
    pairs = (part.rsplit(" ", 1) for part in text.split("; "))
    return ", ".join(f"{name} {100 * float(share):.0f}" for name, share in pairs)
