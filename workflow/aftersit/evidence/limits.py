"""What can't be told, from figures: measured here, or by the benches where they were run."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from aftersit.evidence.bench_figures import figures
from aftersit.evidence.given import Given
from aftersit.evidence.texts import texts
from aftersit.pages.format import number


@dataclass(frozen=True)
class Limit:
    """One thing that can't be told: its name, a sentence, where the figures come from."""

    name: str
    sentence: str
    basis: str


HERE = "measured for this page"


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
        "head": figures(bench, "head"),
        "block": (_factors(), HERE),
        "late": (_delays(given), HERE),
        "muscle": figures(bench, "muscle"),
        "muscle-power": figures(bench, "muscle-power"),
        "electrodes": figures(bench, "electrodes"),
        "drowsy": figures(bench, "drowsy"),
        "reward": figures(bench, "reward"),
        "changes": figures(bench, "changes", "rest"),
        "advice": figures(bench, "advice"),
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
    from aftersit.head.selective import curve, selective_matrices, trade

    head, settings, keys = given.head, given.settings.head, half_keys()
    cortex = even_cortex(head, head.names, settings.limit_noise_share)
    forms = sloreta_matrices(head, head.names, keys, settings, RegionSet())
    purity = 100 * purities(forms, keys, RegionSet(), cortex)
    coverage = 100 * coverages(forms, keys, RegionSet(), cortex)
    problem, right = trade(cortex, ["insula-right"], RegionSet()), keys.index("insula-right")
    least = np.minimum(coverage[[right]] / 100, settings.selective_coverage)
    pure = selective_matrices(problem, curve(problem), least)
    return {
        "lowest": number(purity.min()),
        "median": number(np.median(purity)),
        "highest": number(purity.max(), 0),
        "insula": number(purity[right]),
        "insula_limit": number(100 * problem.limit[0]),
        "selective": number(100 * purities(pure, ["insula-right"], RegionSet(), cortex)[0]),
        "selective_coverage": number(
            100 * coverages(pure, ["insula-right"], RegionSet(), cortex)[0], 0
        ),
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
