"""What can't be told, from figures: measured here, or by the benches where they were run."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from aftersit.evidence.given import Given
from aftersit.evidence.texts import texts
from aftersit.pages.format import number
from aftersit.plain_yaml import load_plain_yaml


@dataclass(frozen=True)
class Limit:
    """One thing that can't be told: its name, a sentence, where the figures come from."""

    name: str
    sentence: str
    basis: str


HERE = "measured for this page"
RECORDED = Path(__file__).parents[3] / "shared" / "measured_limits.yaml"
KEYS = {
    "regions-summary": "head",
    "cleaning-muscle-verdicts": "muscle",
    "cleaning-electrodes": "electrodes",
    "cleaning-drowsy-hits": "drowsy",
}
"""Table of a bench -> key of its recorded figures and of the sentence."""


def limits(given: Given, bench: Path) -> list[Limit]:
    """All of them, in the page's order.

    Parameters
    ----------
    given : Given
    bench : Path
        Folder where `scripts/aftersit bench` leaves its tables.
    """
    found = {
        "place": (_hearing(given), HERE),
        "head": _from_bench(bench, "regions-summary", _head_spread),
        "block": (_factors(), HERE),
        "late": (_delays(given), HERE),
        "muscle": _from_bench(bench, "cleaning-muscle-verdicts", _muscle),
        "electrodes": _from_bench(bench, "cleaning-electrodes", _electrodes),
        "drowsy": _from_bench(bench, "cleaning-drowsy-hits", _drowsy),
        "cause": ({}, "by design of the sittings"),
        "person": ({}, "by the method"),
    }
    return list(_worded(found))


def _worded(found: dict) -> Iterator[Limit]:
    for key, (values, basis) in found.items():
        words = texts().limits[key]
        yield Limit(words.name, words.sentence.format(**values), basis)


def _hearing(given: Given) -> dict[str, str]:
    from aftersit.head.atlas import half_keys
    from aftersit.head.cortex import even_cortex
    from aftersit.head.hearing import coverages, purities
    from aftersit.head.region_set import RegionSet
    from aftersit.head.regions import sloreta_matrices
    from aftersit.head.selective import trade

    head, settings, keys = given.head, given.settings.head, half_keys()
    cortex = even_cortex(head, head.names, settings.limit_noise_share)
    forms = sloreta_matrices(head, head.names, keys, settings, RegionSet())
    purity = 100 * purities(forms, keys, RegionSet(), cortex)
    coverage = 100 * coverages(forms, keys, RegionSet(), cortex)
    limit = 100 * trade(cortex, ["insula-right"], RegionSet()).limit[0]
    return {
        "lowest": number(purity.min()),
        "median": number(np.median(purity)),
        "highest": number(purity.max(), 0),
        "insula": number(purity[keys.index("insula-right")]),
        "insula_limit": number(limit),
        "coverage_low": number(coverage.min(), 0),
        "coverage_high": number(coverage.max(), 0),
    }


def _factors() -> dict[str, str]:
    from aftersit.head.intervals import interval, segment_dof
    from aftersit.head.spectra import hann

    found = {}
    for seconds in (10, 60, 300):
        dof = segment_dof([seconds - 1], hann(512), 256)
        low, high = (float(end[0]) for end in interval(np.ones(1), np.array([dof])))
        found |= {f"low_{seconds}": number(low, 2), f"high_{seconds}": number(high, 2)}
    return found


def _delays(given: Given) -> dict[str, str]:
    from aftersit.replay.filters import band_pass, group_delay_s

    order = given.settings.replay.filter_order
    bands = {"theta": (4, 8), "alpha": (8, 13), "gamma": (30, 45)}
    return {
        name: number(1000 * group_delay_s(band_pass(hz, 256, order), hz, 256), 0)
        for name, hz in bands.items()
    }


def _from_bench(bench: Path, name: str, read) -> tuple[dict[str, str], str]:
    """Figures of a bench's table here, else those that came with the project."""
    command = f"scripts/aftersit bench {name.split('-')[0]}"
    path = bench / f"{name}.tsv"
    values = read(pd.read_csv(path, sep="\t")) if path.is_file() else None
    if values:
        return values, f"bench/{name}.tsv, made here by {command}"
    recorded = load_plain_yaml(RECORDED)[KEYS[name]]
    told = {key: f"{value:g}" for key, value in recorded.items()}
    return told, f"{command}, as it ran when this version was made; run it to measure here"


def _head_spread(table: pd.DataFrame) -> dict[str, str] | None:
    rows = table[(table["what"] == "contrast error, dB") & (table["measure"] == "sloreta")]
    if rows.empty or rows["median"].isna().all():
        return None
    row = rows.iloc[0]
    return {"median": number(row["median"]), "highest": number(row["highest"])}


def _muscle(table: pd.DataFrame) -> dict[str, str]:
    rows = table.set_index("muscle")
    free = rows.filter(like="none, sitting", axis=0)["suspect"].iloc[0]
    return {
        "weak": number(rows.loc["3 dB", "suspect"], 0),
        "missed": number(rows.loc["6 dB", "none found"], 0),
        "strong": number(rows.loc["10 dB", "suspect"], 0),
        "wrong": number(free, 0),
    }


def _electrodes(table: pd.DataFrame) -> dict[str, str]:
    rows = table.set_index("fault")["found_percent"]
    names = {"half": "0.5 x its own size", "whole": "1 x its own size",
             "double": "2 x its own size", "pops": "50 uV pops"}  # fmt: skip
    return {key: number(rows[fault], 0) for key, fault in names.items()}


def _drowsy(table: pd.DataFrame) -> dict[str, str]:
    found = table["spells found"]
    return {"lowest": number(found.min(), 0), "highest": number(found.max(), 0)}
