"""Rows about regions: what their measures hear, what both say, band power and slopes."""

from collections.abc import Callable, Iterator, Sequence
from math import isnan
from operator import itemgetter
from statistics import fmean

from aftersit.head.measures import OTHER
from aftersit.pages.format import (
    NONE,
    band,
    db,
    interval_db,
    number,
    percent,
    place,
    region,
    significant,
    unit,
)
from aftersit.pages.inputs import SittingInputs
from aftersit.pages.tables import Rows
from aftersit.record import BlockEvidence, ConditionEvidence, ConditionResult, Contrast, Purity

MEASURES = {"sloreta": "sLORETA", "selective": "selective", "sensor": "electrodes"}
MOST_NEIGHBOURS = 5
Members = Sequence[dict]
"""Rows of band power of one condition's place, one band and one block: one for each electrode."""
AGREEMENTS = {
    "agree": "both show the same change",
    "neither": "neither shows a change beyond drift",
    "disagree": "they disagree: nothing can be said of the region",
    "not-clear": "not clear: only one shows a change beyond drift",
}


def conditions(inputs: SittingInputs) -> list[ConditionResult]:
    """Each place that a condition is about, once for each of its measures."""
    found = {(c.place, c.measure): c for replay in inputs.replays for c in replay.record.conditions}
    return list(found.values())


def purity(inputs: SittingInputs) -> Rows:
    """What each measure hears: shares, coverage, noise, the other side, error of a contrast."""
    rows: Rows = []
    for c in conditions(inputs):
        for measure, found in ((c.measure, c.purity), (OTHER.get(c.measure), c.other_purity)):
            if found:
                rows.append((region(c.place), MEASURES[measure], *_heard(found)))
    return list(dict.fromkeys(rows))


def _heard(found: Purity) -> tuple[str, ...]:
    spread = found.contrast_spread_db
    return (
        percent(found.share),
        percent(found.limit),
        percent(found.coverage),
        db(found.noise_gain_db),
        db(found.other_side_db),
        NONE if spread is None else f"±{number(spread, 1, 'dB')}",
    )


def also_hears(inputs: SittingInputs) -> Rows:
    """The five neighbours that weigh most, by place and measure."""
    rows = []
    for c in conditions(inputs):
        if c.purity and c.purity.neighbours:
            named = [f"{region(n)} {percent(s)}" for n, s in c.purity.neighbours[:MOST_NEIGHBOURS]]
            gaps = [NONE] * (MOST_NEIGHBOURS - len(named))
            rows.append((region(c.place), *named, *gaps))
    return rows


def evidence(inputs: SittingInputs) -> Rows:
    """Each condition in each block: change over the baseline by both measures, bump or slope."""
    return [
        (beside.condition, _over(row), *_evidence(row))
        for beside in _evidence_of(inputs)
        for row in beside.blocks
    ]


def _evidence_of(inputs: SittingInputs) -> Iterator[ConditionEvidence]:
    for replay in inputs.replays:
        yield from replay.record.evidence


def _over(row: BlockEvidence) -> str:
    """A block, and the baseline that its contrasts count from."""
    if row.base is None:
        return str(row.block)
    return f"{row.block} (over {row.base}{'; eyes differ' if row.eyes_differ else ''})"


def _evidence(row: BlockEvidence) -> tuple[str, ...]:
    return (
        _contrast(row.own),
        _contrast(row.other),
        AGREEMENTS.get(row.agreement, NONE),
        db(row.over_slope_db),
        NONE if row.exponent is None else number(row.exponent, 2),
    )


def _contrast(found: Contrast | None) -> str:
    if found is None:
        return NONE
    return f"{db(found.db)} ({interval_db(found.low_db, found.high_db)})"


def band_power(inputs: SittingInputs) -> tuple[list[str], Rows]:
    """Power of the conditions' places: heads of the block columns, and a row a place and band.

    An electrode group's power is the mean over its electrodes, as its condition's is;
    it is taken to be known as well as that of its least known electrode.
    """
    return _by_block(inputs, _power)


def relative_power(inputs: SittingInputs) -> tuple[list[str], Rows]:
    """The same places and bands as parts of the power in 1-30 Hz."""
    return _by_block(inputs, lambda own: percent(_mean([row["relative_power"] for row in own])))


def _by_block(inputs: SittingInputs, cell: Callable[[Members], str]) -> tuple[list[str], Rows]:
    if inputs.bandpower is None:
        return [], []
    numbers = sorted(map(int, inputs.bandpower["block"].unique()))
    rows: Rows = []
    for c in conditions(inputs):
        for (name, low, high), found in _by_band(inputs, c).items():
            unit_of = unit(next(iter(found.values()))[0]["unit"])
            words = f"{place(c.place, c.kind)} ({unit_of})"
            cells = [cell(found.get(n, ())) for n in numbers]
            rows.append((words, f"{name} {band((low, high))}", *cells))
    kinds = {b.index: b.kind.value for b in inputs.blocks}
    return [f"{n} {kinds.get(n, '')}".strip() for n in numbers], rows


def _by_band(
    inputs: SittingInputs, c: ConditionResult
) -> dict[tuple[str, float, float], dict[int, list[dict]]]:
    """Rows of band power of a condition's place by band and block.

    Chosen once and then gone through as they are: a choice for each cell cost a tenth of all
    that pages cost.
    """
    table = inputs.bandpower
    members = [c.place] if c.kind == "region" else c.place.split("+")
    own = table[table["place"].isin(members) & (table["measure"] == c.measure)]
    found: dict[tuple[str, float, float], dict[int, list[dict]]] = {}
    for row in own.to_dict("records"):
        blocks = found.setdefault((row["band"], row["low_hz"], row["high_hz"]), {})
        blocks.setdefault(row["block"], []).append(row)
    return found


def _mean(values: Sequence[float]) -> float | None:
    """The mean; None where one is missing (nan) or there is none."""
    return mean if values and not isnan(mean := fmean(values)) else None


def _power(own: Members) -> str:
    power = _mean([row["power"] for row in own])
    if power is None or min(row["power"] for row in own) <= 0:
        return NONE
    least = min(own, key=itemgetter("dof"))
    ends = (power * least[end] / least["power"] for end in ("power_low", "power_high"))
    low, high = map(significant, ends)
    return f"{significant(power)} ({low}–{high})"
