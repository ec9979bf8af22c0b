"""One sitting under one protocol version: both replays, what they tell, and the record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from aftersit.insight.account import breaks_found, insight, region_scan
from aftersit.protocol import Protocol
from aftersit.record import Bout, Drowsiness, ProtocolRef, Record, Refusal, ReplayResult
from aftersit.replay.account import quality_summary
from aftersit.replay.case import (
    Case,
    Sitting,
    Thresholds,
    both_values,
    make_case,
    thresholds_of,
    without,
)
from aftersit.replay.drowsy import drowsiness
from aftersit.replay.muscle import Heard, heard_in, judged_blocks
from aftersit.replay.run import score
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.summary import removed_share, replay_result
from aftersit.replay.timeline import Timeline
from aftersit.replay.verdicts import described, reasons_of, without_level


@dataclass(frozen=True)
class Replayed:
    """The record, and the timelines `cleaned` and `uncleaned`."""

    record: Record
    timelines: dict[str, pd.DataFrame]


def replay_sitting(
    sitting: Sitting, protocol: Protocol, settings: ReplaySettings, seed: int
) -> Replayed:
    """Run a protocol over a sitting, uncleaned and cleaned, and account for it.

    Too many refused conditions for the protocol's combination, an unusable recording
    or no practice block leave the sitting not scored; everything else of the record is
    still filled. Where enough conditions are left, they alone are scored.

    Parameters
    ----------
    seed : int
        Of the surrogates for what chance would give.
    """
    case = make_case(sitting, protocol, settings)
    values = both_values(case) if sitting.quality.scorable else {}
    thresholds = {name: thresholds_of(case, found) for name, found in values.items()}
    refused = {**case.refused, **without_level(case, thresholds.get("cleaned"))}
    reasons = reasons_of(case, refused)
    if refused and not reasons:
        case, values, thresholds = without(case, values, thresholds, refused)
    timelines = {
        name: score(
            found, protocol, case.running, sitting.blocks, {} if reasons else thresholds[name]
        )
        for name, found in values.items()
    }
    heard = heard_in(case) if values and sitting.muscle else None
    record = _record(case, refused, reasons, timelines, thresholds, heard, seed)
    tables = {
        name: timelines[name].table() if name in timelines else _empty_table(case)
        for name in ("cleaned", "uncleaned")
    }
    if heard:
        shares = heard.shares_at(timelines["uncleaned"].times_s)
        columns = {f"{name}_muscle": share for name, share in shares.items()}
        tables["uncleaned"] = tables["uncleaned"].assign(**columns)
    return Replayed(record, tables)


def _empty_table(case: Case) -> pd.DataFrame:
    """Only the head of a timeline: the recording could not be scored at all."""
    columns = [f"{c.name}_{what}" for c in case.running for what in ("value", "threshold", "met")]
    names = ("time_s", "block", "state", "deciding", "swung", *columns)
    return pd.DataFrame({name: [] for name in names})


def _record(
    case: Case,
    refused: Mapping[str, Refusal],
    reasons: tuple[str, ...],
    timelines: Mapping[str, Timeline],
    thresholds: Mapping[str, Thresholds],
    heard: Heard | None,
    seed: int,
) -> Record:
    sitting, protocol = case.sitting, case.protocol
    conditions = described(case, refused, thresholds.get("cleaned", {}))
    record = Record(
        client=sitting.client,
        sitting=sitting.number,
        practice=sitting.practice,
        settings=sitting.settings,
        protocol=ProtocolRef(name=protocol.name, version=protocol.version),
        status="not-scored" if reasons else "scored",
        reasons=reasons,
        quality=quality_summary(sitting.quality, sitting.blocks),
        needed=protocol.needed,
        drowsiness=_drowsiness(case, ()),
        conditions=conditions,
        cleaned=None,
        uncleaned=None,
        removed_reward_share=None,
        breaks=(),
        muscle=heard.account(judged_blocks(case), ()) if heard else None,
    )
    return record if reasons else _with_results(record, case, timelines, thresholds, heard, seed)


def _with_results(
    record: Record,
    case: Case,
    timelines: Mapping[str, Timeline],
    thresholds: Mapping[str, Thresholds],
    heard: Heard | None,
    seed: int,
) -> Record:
    """The record of a scored sitting with its replays and what they tell."""
    results: dict[str, ReplayResult] = {
        name: replay_result(
            found, case.sitting.blocks, case.running, thresholds[name], case.settings.insight
        )
        for name, found in timelines.items()
    }
    scan = region_scan(case)
    scored = record.model_copy(
        update={
            **results,
            "drowsiness": _drowsiness(case, results["cleaned"].bouts),
            "removed_reward_share": removed_share(timelines["uncleaned"], timelines["cleaned"]),
            "breaks": breaks_found(case, timelines["cleaned"], results["cleaned"], scan),
            "muscle": heard and heard.account(judged_blocks(case), results["cleaned"].bouts),
        }
    )
    told = insight(case, scored, timelines, thresholds["cleaned"], scan, seed)
    return scored.model_copy(update={"insight": told})


def _drowsiness(case: Case, bouts: Sequence[Bout]) -> Drowsiness:
    quality = case.sitting.quality
    return drowsiness(quality.drowsy, case.sitting.blocks, bouts, case.settings.drowsy)
