"""All that the replays of one scored sitting tell, for the record."""

from collections.abc import Mapping, Sequence

import numpy as np

from aftersit.blocks import Block
from aftersit.findings import BreakResult, InBaseline, Insight, NoAdvice
from aftersit.insight.advice import Held, advise, may_move
from aftersit.insight.agreement import agreement
from aftersit.insight.breaks import break_results
from aftersit.insight.chance import chance, leakage_between
from aftersit.insight.elsewhere import RegionScan
from aftersit.insight.longrun import mean_variance
from aftersit.insight.lost import Signals, lost_reward
from aftersit.insight.playback import Playback
from aftersit.insight.reward_off import reward_off
from aftersit.insight.segments import segment_means, steps_in
from aftersit.insight.survival import survival
from aftersit.insight.whatif import what_if, what_if_both
from aftersit.muscle.made_up import fast_part_kept
from aftersit.quality import Quality
from aftersit.record import Record, ReplayResult
from aftersit.record_muscle import MuscleVerdict
from aftersit.replay import logic
from aftersit.replay.baseline import baseline_for, inside_baseline
from aftersit.replay.case import Case, Thresholds, region_matrices
from aftersit.replay.conditions import matrix_of
from aftersit.replay.timeline import Timeline


def region_scan(case: Case) -> RegionScan:
    """Levels of all regions and bands, for everything that looks at them."""
    sitting = case.sitting
    return RegionScan(sitting.cleaned, sitting.regions, sitting.quality, case.settings.insight)


def breaks_found(
    case: Case, timeline: Timeline, result: ReplayResult, scan: RegionScan
) -> tuple[BreakResult, ...]:
    """What changed over each break, by the cleaned replay."""
    blocks = case.sitting.blocks
    return break_results(timeline, blocks, result.blocks, scan, case.settings.insight)


def insight(
    case: Case,
    record: Record,
    timelines: Mapping[str, Timeline],
    thresholds: Thresholds,
    scan: RegionScan,
    seed: int,
) -> Insight:
    """Chance, what-if, advice, survival, lost reward, agreement, what went with no reward.

    Parameters
    ----------
    record : Record
        With both replays' results.
    thresholds : dict
        Of the cleaned replay.
    """
    settings = case.settings.insight
    scored = [b for b in case.sitting.blocks if _scored(record.cleaned, b)]
    played = Playback.of(timelines["cleaned"], scored, case.protocol)
    baseline = _in_baseline(case, timelines["cleaned"], scored, thresholds)
    held = _held(case, timelines["cleaned"], scored[-1], thresholds, record)
    return Insight(
        chance=chance(played, baseline, _leakage(case), settings, seed),
        what_if=what_if(played, case.running, settings),
        what_if_both=what_if_both(played, case.running, settings),
        advice=advise(played, held, no_advice(case, record), settings, case.fast_hz),
        survival=survival(record.cleaned.bouts),
        lost=_lost(case, timelines),
        agreement=_agreement(case, timelines, scored),
        reward_off=reward_off(
            scan,
            timelines["cleaned"],
            scored,
            case.running,
            case.sitting.regions.regions,
            settings,
        ),
    )


def _scored(result: ReplayResult, block: Block) -> bool:
    return any(r.scored for r in result.blocks if r.index == block.index)


def no_advice(case: Case, record: Record) -> list[NoAdvice]:
    """Why thresholds from this sitting would be hollow."""
    cautions = {code for c in record.conditions for code in c.cautions}
    removed, chosen = record.removed_reward_share, case.settings.insight
    reasons: list[tuple[NoAdvice, bool]] = [
        ("few-electrodes", "few-electrodes" in cautions),
        ("baseline-eyes-differ", "baseline-eyes-differ" in cautions),
        (
            "reward-mostly-removed",
            removed is not None and removed >= chosen.advice_removed,
        ),
        ("muscle", _muscle_suspected(case, record)),
        ("muscle-cant-tell", _muscle_unknown(case, record)),
        ("drowsy", _drowsy_share(record) >= chosen.advice_drowsy),
    ]
    return [code for code, holds in reasons if holds]


def _muscle_suspected(case: Case, record: Record) -> bool:
    """Whether a condition that advice may move was perhaps earned by muscle in a scored block."""
    found = _muscle_verdicts(case, record)
    return any("suspect" in verdicts for verdicts in found.values())


def _muscle_unknown(case: Case, record: Record) -> bool:
    """Whether nobody can tell that of one whose band reaches to where muscle is loud."""
    found = _muscle_verdicts(case, record)
    fast = {c.name for c in case.running if c.band_hz[1] > (case.fast_hz or 0.0)}
    return any("cant-tell" in verdicts for name, verdicts in found.items() if name in fast)


def _muscle_verdicts(case: Case, record: Record) -> dict[str, set[MuscleVerdict]]:
    """Verdicts in scored blocks of the conditions that advice may move and muscle could earn."""
    scored = {b.index for b in record.cleaned.blocks if b.scored}
    verdicts = {c.name: set() for c in case.running if may_move(c, case.fast_hz)}
    for f in record.muscle.earning if record.muscle else ():
        if f.block in scored and f.condition in verdicts:
            verdicts[f.condition].add(f.finding.verdict)
    return verdicts


def _drowsy_share(record: Record) -> float:
    """Part of the scored blocks that lies in spans suspected of drowsiness."""
    scored = {b.index: b.stop_s - b.start_s for b in record.cleaned.blocks if b.scored}
    suspected_s = sum(b.suspected_s for b in record.drowsiness.blocks if b.index in scored)
    return suspected_s / sum(scored.values())


def _leakage(case: Case) -> np.ndarray | None:
    """What the conditions' measures hear of each other on the cleaned electrodes."""
    if len(case.running) < 2:
        return None
    regions, quality = case.sitting.regions, case.sitting.quality
    found = region_matrices(case.running, regions)
    heard = [
        [_through(quality, band, matrix_of(c, regions.good, found)) for band in c.bands_hz]
        for c in case.running
    ]
    return leakage_between(case.running, heard, regions.covariance)


def _through(quality: Quality, band_hz: tuple[float, float], matrix: np.ndarray) -> np.ndarray:
    """A measure of the cleaned signal as one of the signal before, eyes aside."""
    kept = fast_part_kept(quality, band_hz)
    if quality.keep:
        # Eyes are taken out while they move only.
        kept = kept @ (np.array(quality.keep) + (np.array(quality.eyes) if quality.eyes else 0.0))
    return kept.T @ matrix @ kept


def _in_baseline(
    case: Case, timeline: Timeline, scored: Sequence[Block], thresholds: Thresholds
) -> InBaseline | None:
    """The first scored block's thresholds over its baseline.

    None where one sets itself: its start is no threshold that the practice had to meet.
    """
    base = baseline_for(case.sitting.blocks, scored[0])
    if base is None or any(condition.is_adaptive for condition in case.running):
        return None
    inside = inside_baseline(timeline.times_s, base, case.protocol.timing.smoothing_s)
    value = timeline.calm[:, inside]
    limits = [t.value for t in thresholds[scored[0].index]]
    known = ~np.isnan(value).any(axis=0)
    met = np.array(
        [
            logic.is_met(v, limit, way)
            for v, limit, way in zip(value, limits, timeline.directions, strict=True)
        ]
    )
    played = Playback.of_met(met, known, case.protocol)
    if not len(played.rows):
        return None
    rewarded = played.rewarded(played.met.sum(axis=0))
    return InBaseline(
        block=base.index,
        reward_share=float(rewarded.mean()),
        longest_bout_s=float(played.longest_s(rewarded)),
    )


def _held(
    case: Case, timeline: Timeline, last: Block, thresholds: Thresholds, record: Record
) -> list[Held]:
    """The conditions as they stood in the last scored block."""
    base = baseline_for(case.sitting.blocks, last)
    return [
        Held(
            condition=condition,
            threshold=record.cleaned.thresholds[condition.name],
            level=found.level,
            level_error_db=_level_error_db(case, timeline, i, base) if found.level else None,
        )
        for i, (condition, found) in enumerate(
            zip(case.running, thresholds[last.index], strict=True)
        )
    ]


def _level_error_db(case: Case, timeline: Timeline, i: int, base: Block | None) -> float | None:
    """Standard error of a baseline's level; None where it is too short to say."""
    settings = case.settings.insight
    inside = inside_baseline(timeline.times_s, base, case.protocol.timing.smoothing_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        db = 10 * np.log10(timeline.calm[i, inside])
    means = segment_means(db, steps_in(settings.segment_s, timeline), settings.segment_known)
    if len(means) <= settings.share_cosines:
        return None
    return float(np.sqrt(mean_variance(means, settings.share_cosines)))


def _lost(case: Case, timelines: Mapping[str, Timeline]):
    sitting = case.sitting
    signals = Signals(
        uncleaned=sitting.uncleaned,
        quality=sitting.quality,
        all_matrices=sitting.uncleaned_matrices,
        good_matrices=region_matrices(case.running, sitting.regions),
        eye_below_hz=sitting.eye_below_hz,
    )
    return lost_reward(
        timelines["cleaned"],
        timelines["uncleaned"],
        case.running,
        sitting.blocks,
        signals,
        case.settings.insight.window_s,
    )


def _agreement(case: Case, timelines: Mapping[str, Timeline], scored: Sequence[Block]) -> tuple:
    """Both replays against the room's log, when there is one."""
    if not case.sitting.rewards_logged:
        return ()
    found = (
        agreement(name, timelines[name], scored, case.sitting.rewards_logged)
        for name in ("cleaned", "uncleaned")
    )
    return tuple(a for a in found if a is not None)
