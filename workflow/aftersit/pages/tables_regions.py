"""Rows about regions: what their measures hear, what both say, band power and slopes."""

from collections.abc import Iterator

import pandas as pd

from aftersit.head.intervals import interval
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
AGREEMENTS = {
    "agree": "both say the same",
    "disagree": "they disagree: nothing can be said of the region",
    "not-clear": "not clear: one shows a change, the other none",
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
    return _by_block(inputs, lambda own: percent(_mean(own["relative_power"])))


def _by_block(inputs: SittingInputs, cell) -> tuple[list[str], Rows]:
    if inputs.bandpower is None:
        return [], []
    table = inputs.bandpower
    numbers = sorted(int(n) for n in table["block"].unique())
    rows: Rows = []
    for c in conditions(inputs):
        own = table[table["place"].isin(_members(c)) & (table["measure"] == c.measure)]
        for (name, low, high), part in own.groupby(["band", "low_hz", "high_hz"], sort=False):
            words = f"{place(c.place, c.kind)} ({unit(part['unit'].iloc[0])})"
            cells = [cell(part[part["block"] == n]) for n in numbers]
            rows.append((words, f"{name} {band((low, high))}", *cells))
    kinds = {b.index: b.kind.value for b in inputs.blocks}
    return [f"{n} {kinds.get(n, '')}".strip() for n in numbers], rows


def _members(c: ConditionResult) -> list[str]:
    return [c.place] if c.kind == "region" else c.place.split("+")


def _mean(values: pd.Series) -> float | None:
    return float(values.mean()) if values.notna().all() and len(values) else None


def _power(own: pd.DataFrame) -> str:
    power, dof = _mean(own["power"]), own["dof"].min()
    if power is None:
        return NONE
    low, high = interval(power, dof)
    return f"{significant(power)} ({significant(float(low))}–{significant(float(high))})"
