"""Regions: is the head model right, what do measures hear, what does it cost."""

from collections.abc import Iterator

from aftersit.bench import heads
from aftersit.bench.outer_skull import outer_skull_table
from aftersit.bench.peaks import peak_table
from aftersit.bench.region_costs import cost_table
from aftersit.bench.region_tables import curve_table, hearing_table, summary_table
from aftersit.bench.solvers import sphere_table, template_table
from aftersit.bench.table import Table
from aftersit.bench.two_sources import two_sources_table
from aftersit.electrodes import LARGER_64, STANDARD_19
from aftersit.head.model import Head
from aftersit.head.plausible import PlausibleHeads, draw_heads
from aftersit.head.regions import region_measures
from aftersit.settings import Settings, load_settings

SHOWN = (
    "insula-right",
    "superiorfrontal-left",
    "lateraloccipital-both",
    "caudalanteriorcingulate-both",
    "precuneus-both",
)


def tables(quick: bool) -> Iterator[Table]:
    """All tables; quick ones skip the second solver and the 64 electrodes."""
    settings = load_settings(heads.LABEL)
    sets = {"19": STANDARD_19} if quick else {"19": STANDARD_19, "64": LARGER_64}
    found = {name: heads.template_head(names) for name, names in sets.items()}
    if not quick:
        yield sphere_table(settings.head, LARGER_64, 60)
        yield template_table(found["64"], settings.head, 1500)
    yield outer_skull_table(found["19"], settings.head, quick)
    yield peak_table(found, settings.head, 100 if quick else 2000)
    measures = {
        name: region_measures(
            head, head.names, settings.head, heads=_drawn(head, settings, quick), seed=settings.seed
        )
        for name, head in found.items()
    }
    for name, of in measures.items():
        yield hearing_table(name, of)
    yield summary_table(measures)
    yield curve_table(measures["19"], SHOWN)
    yield two_sources_table(found["19"], measures["19"], settings.head.limit_noise_share)
    yield cost_table(quick)


def _drawn(head: Head, settings: Settings, quick: bool) -> PlausibleHeads | None:
    return None if quick else draw_heads(head, settings.head, settings.seed, head.names)
