"""One sitting under one protocol version: both replays and the record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from aftersit.blocks import Block
from aftersit.findings import BreakResult
from aftersit.head.measures import RegionMeasures
from aftersit.insight.breaks import break_results
from aftersit.insight.elsewhere import RegionScan
from aftersit.protocol import Condition, ElectrodePlace, Protocol
from aftersit.quality import Quality
from aftersit.record import (
    Caution,
    ConditionResult,
    ProtocolRef,
    Record,
    Refusal,
    ReplayResult,
)
from aftersit.replay import conditions as cond
from aftersit.replay.account import quality_summary
from aftersit.replay.baseline import Threshold, baseline_for
from aftersit.replay.drowsy import drowsiness
from aftersit.replay.run import Signal, Values, block_thresholds, condition_values, score
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.summary import removed_share, replay_result
from aftersit.replay.timeline import Timeline
from aftersit.sheet import Kind, Practice

Thresholds = dict[int, list[Threshold]]


@dataclass(frozen=True)
class Sitting:
    """What a replay needs to know of one sitting.

    Attributes
    ----------
    regions : RegionMeasures
        For the good electrodes, the rows of `cleaned`.
    uncleaned_matrices : mapping
        Region measure (`RegionPlace.measure_key`) -> matrix over the rows of `uncleaned`.
    cleaned, uncleaned : Signal
    """

    client: str
    number: int
    practice: Practice
    settings: str
    blocks: tuple[Block, ...]
    quality: Quality
    regions: RegionMeasures
    uncleaned_matrices: Mapping[str, np.ndarray]
    cleaned: Signal
    uncleaned: Signal


@dataclass(frozen=True)
class Replayed:
    """The record, and the timelines `cleaned` and `uncleaned`."""

    record: Record
    timelines: dict[str, pd.DataFrame]


@dataclass(frozen=True)
class _Case:
    """One sitting, one protocol, and what follows from the two before any signal is run."""

    sitting: Sitting
    protocol: Protocol
    settings: ReplaySettings
    practices: tuple[Block, ...]
    refused: dict[str, Refusal]
    delays: dict[str, cond.Delays]

    @property
    def running(self) -> list[Condition]:
        """Conditions that can be run at all."""
        return [c for c in self.protocol.conditions if self.refused.get(c.name) in _VALUES_ANYWAY]


# Without a baseline there is no threshold, but there are values to look at.
_VALUES_ANYWAY = (None, "no-baseline")


def practices_of(blocks: Sequence[Block], protocol: str) -> tuple[Block, ...]:
    """Practice blocks to score: those of this protocol, or all when none is.

    The second case is rescoring with a protocol that was not practised.
    """
    practices = tuple(b for b in blocks if b.kind is Kind.PRACTICE)
    return tuple(b for b in practices if b.protocol == protocol) or practices


def replay_sitting(sitting: Sitting, protocol: Protocol, settings: ReplaySettings) -> Replayed:
    """Run a protocol over a sitting, uncleaned and cleaned, and account for it.

    A refused condition, an unusable recording or no practice block leaves the
    sitting not scored; everything else of the record is still filled.
    """
    case = _case(sitting, protocol, settings)
    values = {} if not sitting.quality.scorable else _both_values(case)
    thresholds = {name: _thresholds(case, found) for name, found in values.items()}
    refused = {**case.refused, **_without_level(case, thresholds.get("cleaned"))}
    reasons = _reasons(case, refused)
    timelines = {
        name: _timeline(case, found, {} if reasons else thresholds[name])
        for name, found in values.items()
    }
    record = _record(case, refused, reasons, timelines, thresholds)
    tables = {
        name: timelines[name].table() if name in timelines else _empty_table(case)
        for name in ("cleaned", "uncleaned")
    }
    return Replayed(record, tables)


def _case(sitting: Sitting, protocol: Protocol, settings: ReplaySettings) -> _Case:
    practices = practices_of(sitting.blocks, protocol.name)
    refused, late = {}, {}
    for condition in protocol.conditions:
        reason = cond.refusal(condition, sitting.quality, sitting.regions)
        if reason != "band-not-in-recording":
            late[condition.name] = cond.delays(
                condition, protocol.timing.smoothing_s, sitting.quality.rate_hz, settings
            )
        if not reason and condition.rests_on_baseline:
            bases = [baseline_for(sitting.blocks, block) for block in practices]
            reason = None if any(bases) or not practices else "no-baseline"
        if reason:
            refused[condition.name] = reason
    return _Case(sitting, protocol, settings, practices, refused, late)


def _both_values(case: _Case) -> dict[str, Values]:
    cleaned = region_matrices(case.running, case.sitting.regions)
    return {
        "cleaned": _values(case, case.sitting.cleaned, cleaned),
        "uncleaned": _values(case, case.sitting.uncleaned, case.sitting.uncleaned_matrices),
    }


def region_matrices(
    conditions: Sequence[Condition], regions: RegionMeasures
) -> dict[str, np.ndarray]:
    """Matrices of the region measures that conditions need, by `measure_key`."""
    places = [c.where for c in conditions if not isinstance(c.where, ElectrodePlace)]
    return {
        p.measure_key: regions.matrix(p.key, p.measure) for p in places if p.key in regions.keys
    }


def _values(case: _Case, signal: Signal, matrices: Mapping[str, np.ndarray]) -> Values:
    tracks = [
        cond.track(c, signal.names, matrices, signal.rate_hz, signal.mains_hz, case.settings)
        for c in case.running
    ]
    return condition_values(signal, tracks, case.protocol, case.settings)


def _thresholds(case: _Case, values: Values) -> Thresholds:
    smoothing_s = case.protocol.timing.smoothing_s
    return block_thresholds(
        values, case.running, case.practices, case.sitting.blocks, smoothing_s, case.settings
    )


def _without_level(case: _Case, thresholds: Thresholds | None) -> dict[str, Refusal]:
    """Conditions whose baselines hold too little that is usable to give any threshold."""
    if not thresholds:
        return {}
    return {
        c.name: "no-baseline"
        for i, c in enumerate(case.running)
        if all(row[i].value is None for row in thresholds.values())
    }


def _reasons(case: _Case, refused: Mapping[str, Refusal]) -> tuple[str, ...]:
    quality = case.sitting.quality
    reasons = [] if quality.scorable else list(quality.unusable)
    if not case.practices:
        reasons.append("no-practice-block")
    if len(refused) == len(case.protocol.conditions):
        reasons.append("all-conditions-refused")
    elif refused:
        reasons.append("a-condition-refused")
    return tuple(reasons)


def _timeline(case: _Case, values: Values, thresholds: Thresholds) -> Timeline:
    return score(values, case.protocol, case.running, case.sitting.blocks, thresholds)


def _empty_table(case: _Case) -> pd.DataFrame:
    """Only the head of a timeline: the recording could not be scored at all."""
    columns = [f"{c.name}_{what}" for c in case.running for what in ("value", "threshold", "met")]
    return pd.DataFrame({name: [] for name in ("time_s", "block", "state", "deciding", *columns)})


def _record(
    case: _Case,
    refused: Mapping[str, Refusal],
    reasons: tuple[str, ...],
    timelines: Mapping[str, Timeline],
    thresholds: Mapping[str, Thresholds],
) -> Record:
    sitting, protocol = case.sitting, case.protocol
    results: dict[str, ReplayResult] = {}
    if not reasons:
        results = {
            name: replay_result(
                found, sitting.blocks, case.running, thresholds[name], case.settings.insight
            )
            for name, found in timelines.items()
        }
    return Record(
        client=sitting.client,
        sitting=sitting.number,
        practice=sitting.practice,
        settings=sitting.settings,
        protocol=ProtocolRef(name=protocol.name, version=protocol.version),
        status="not-scored" if reasons else "scored",
        reasons=reasons,
        quality=quality_summary(sitting.quality, sitting.blocks),
        needed=protocol.needed,
        drowsiness=drowsiness(
            sitting.quality.drowsy,
            sitting.blocks,
            results["cleaned"].bouts if results else (),
            case.settings.drowsy,
        ),
        conditions=_conditions(case, refused, thresholds.get("cleaned", {})),
        cleaned=results.get("cleaned"),
        uncleaned=results.get("uncleaned"),
        removed_reward_share=(
            removed_share(timelines["uncleaned"], timelines["cleaned"]) if results else None
        ),
        breaks=_breaks(case, timelines, results) if results else (),
    )


def _breaks(
    case: _Case, timelines: Mapping[str, Timeline], results: Mapping[str, ReplayResult]
) -> tuple[BreakResult, ...]:
    sitting, settings = case.sitting, case.settings.insight
    scan = RegionScan(sitting.cleaned, sitting.regions, sitting.quality, settings)
    return break_results(
        timelines["cleaned"], sitting.blocks, results["cleaned"].blocks, scan, settings
    )


def _conditions(
    case: _Case, refused: Mapping[str, Refusal], thresholds: Thresholds
) -> tuple[ConditionResult, ...]:
    return tuple(
        cond.describe(
            condition,
            case.sitting.regions,
            refused.get(condition.name),
            _cautions(case, condition, thresholds),
            case.delays.get(condition.name),
        )
        for condition in case.protocol.conditions
    )


def _cautions(case: _Case, condition: Condition, thresholds: Thresholds) -> list[Caution]:
    cautions: list[Caution] = []
    if condition.rests_on_baseline:
        bases = [(baseline_for(case.sitting.blocks, p), p) for p in case.practices]
        if any(base and base.eyes != practice.eyes for base, practice in bases):
            cautions.append("baseline-eyes-differ")
        if _short(case, condition, thresholds):
            cautions.append("baseline-short")
    if len(case.sitting.quality.good) < case.settings.few_electrodes:
        cautions.append("few-electrodes")
    return cautions


def _short(case: _Case, condition: Condition, thresholds: Thresholds) -> bool:
    """Whether a baseline that gave a threshold holds little that is usable."""
    if condition not in case.running:
        return False
    i = case.running.index(condition)
    usable = [row[i].usable_s for row in thresholds.values() if row[i].value is not None]
    return any(seconds < case.settings.baseline_short_s for seconds in usable)
