"""Records of invented sittings, counted from simulated timelines."""

import numpy as np
import pandas as pd
import sample_insight
from sample_tables import STEP_S, timeline

from aftersit import findings as find
from aftersit import record as rec
from aftersit.blocks import Block
from aftersit.pages.inputs import Replayed
from aftersit.protocol import Protocol
from aftersit.quality import Quality

PURITY = {
    "insula-gamma": rec.Purity(
        share=0.048,
        limit=0.079,
        coverage=0.87,
        noise_gain_db=2.5,
        other_side_db=8.2,
        contrast_spread_db=0.17,
        neighbours=(("superiortemporal-right", 0.11), ("parsorbitalis-right", 0.07)),
    ),
    "cingulate-alpha": rec.Purity(
        share=0.041, limit=0.052, coverage=0.81, neighbours=(("superiorfrontal-both", 0.19),)
    ),
    "jaw-quiet": None,
}
OTHER_PURITY = {
    "insula-gamma": rec.Purity(
        share=0.078,
        limit=0.079,
        coverage=0.79,
        noise_gain_db=4.4,
        other_side_db=9.0,
        contrast_spread_db=0.19,
        neighbours=(("superiortemporal-right", 0.13),),
    ),
}
EVIDENCE = (
    rec.ConditionEvidence(
        condition="insula-gamma",
        blocks=(
            rec.BlockEvidence(
                block=1, own=None, other=None, agreement=None, over_slope_db=0.4, exponent=1.21
            ),
            rec.BlockEvidence(
                block=4,
                base=1,
                eyes_differ=True,
                own=rec.Contrast(db=2.3, low_db=1.6, high_db=3.0),
                other=rec.Contrast(db=-1.4, low_db=-2.2, high_db=-0.6),
                agreement="disagree",
                over_slope_db=None,
                exponent=None,
            ),
        ),
    ),
)


def quality_summary(found: Quality) -> rec.QualitySummary:
    removed = [c.label for c in found.components if c.removed]
    return rec.QualitySummary(
        rate_hz=found.rate_hz,
        duration_s=found.duration_s,
        usable_s=found.usable_s,
        mains_hz=found.mains_hz,
        carried_low_hz=found.carried.low_hz,
        carried_high_hz=found.carried.high_hz,
        good_electrodes=tuple(found.good),
        bad_electrodes={e.name: e.reasons for e in found.electrodes if not e.good},
        components_removed={label: removed.count(label) for label in sorted(set(removed))},
        bad_seconds={"movement": 11.75, "pop": 1.5},
        bad_seconds_by_block={"1": 3.5, "2": 8.25, "4": 1.5},
    )


def bouts_of(table: pd.DataFrame) -> tuple[rec.Bout, ...]:
    on = (table["state"] == "reward").to_numpy()
    edges = np.flatnonzero(np.diff(np.r_[0, on.astype(int), 0]))
    time, block = table["time_s"].to_numpy(), table["block"].to_numpy()
    return tuple(
        rec.Bout(block=int(block[a]), start_s=float(time[a]), stop_s=float(time[b - 1] + STEP_S))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def replay_result(table: pd.DataFrame, blocks, names: dict[str, str]) -> rec.ReplayResult:
    bouts = bouts_of(table)
    results = tuple(
        _block_result(b, table[table["block"] == b.index], bouts, names) for b in blocks
    )
    reward = sum(b.seconds.reward_s for b in results)
    known = reward + sum(b.seconds.no_reward_s for b in results)
    return rec.ReplayResult(
        thresholds=dict.fromkeys(names, 6.0),
        baselines=dict.fromkeys(names, 4.77),
        blocks=results,
        bouts=bouts,
        in_target_share=reward / known if known else None,
        bouts_total=len(bouts),
        longest_bout_s=max((b.stop_s - b.start_s for b in bouts), default=None),
    )


def _block_result(block: Block, rows: pd.DataFrame, bouts, names) -> rec.BlockResult:
    scored = block.kind == "practice"
    own = [b for b in bouts if b.block == block.index]
    lengths = [b.stop_s - b.start_s for b in own]
    count = {k: STEP_S * float((rows["state"] == k).sum()) for k in ("reward", "no-reward", "bad")}
    known = count["reward"] + count["no-reward"]
    length = block.stop_s - block.start_s
    return rec.BlockResult(
        index=block.index,
        kind=block.kind,
        start_s=block.start_s,
        stop_s=block.stop_s,
        eyes=block.eyes,
        scored=scored,
        seconds=rec.BlockSeconds(
            reward_s=count["reward"],
            no_reward_s=count["no-reward"],
            unknown_s=0.0,
            bad_s=count["bad"],
            not_scored_s=0.0 if scored else length,
        ),
        in_target_share=count["reward"] / known if scored and known else None,
        bouts=len(own),
        longest_bout_s=max(lengths, default=None),
        median_bout_s=float(np.median(lengths)) if lengths else None,
        first_bout_after_s=own[0].start_s - block.start_s if own else None,
        median_lapse_s=4.25 if len(own) > 1 else None,
        several_failing_share=_several(rows, names) if scored else None,
        conditions=tuple(_in_block(n, d, rows, names) for n, d in names.items()) if scored else (),
    )


def _failing(rows: pd.DataFrame, names) -> pd.DataFrame:
    off = rows[rows["state"] == "no-reward"]
    return ~off[[f"{n}_met" for n in names]]


def _several(rows, names) -> float:
    return float((_failing(rows, names).sum(axis=1) > 1).mean())


def _in_block(name, direction, rows, names) -> rec.ConditionInBlock:
    sign = 1 if direction == "above" else -1
    db = sign * 10 * np.log10(rows[f"{name}_value"] / rows[f"{name}_threshold"])
    failing = _failing(rows, names)
    alone = failing[f"{name}_met"] & (failing.sum(axis=1) == 1)
    return rec.ConditionInBlock(
        name=name,
        threshold=6.0,
        met_share=float(rows[f"{name}_met"].mean()),
        median_db=float(db.median()),
        highest_db=float(db.max()),
        deciding_share=float(alone.mean()),
    )


def condition_results(used: Protocol, refused: dict[str, str]) -> tuple[rec.ConditionResult, ...]:
    results = []
    for c in used.conditions:
        absolute = hasattr(c.threshold, "absolute")
        region = hasattr(c.where, "region")
        results.append(
            rec.ConditionResult(
                name=c.name,
                place=c.where.key,
                kind="region" if region else "electrodes",
                measure="sloreta" if region else "sensor",
                band_hz=c.band_hz,
                direction=c.direction,
                rule="absolute" if absolute else "db-over-baseline",
                rule_value=c.threshold.absolute if absolute else c.threshold.db_over_baseline,
                unit="sLORETA^2" if region else "uV^2",
                refused=refused.get(c.name),
                filter_delay_s=0.046 if c.band_hz[0] > 20 else 0.166,
                smoothing_delay_s=0.5,
                settle_s=0.129 if c.band_hz[0] > 20 else 0.48,
                purity=PURITY.get(c.name),
                other_purity=OTHER_PURITY.get(c.name),
            )
        )
    return tuple(results)


def break_result(cleaned: rec.ReplayResult, used: Protocol) -> find.BreakResult:
    share = {b.index: b.in_target_share for b in cleaned.blocks}
    figures = {
        "insula-gamma": (-1.9, 0.6, 2.5, 1.1, 3.9),
        "cingulate-alpha": (0.9, 1.3, 0.4, -0.8, 1.6),
    }
    return find.BreakResult(
        block=3,
        start_s=390.0,
        stop_s=440.0,
        before_block=2,
        after_block=4,
        in_target=find.ShareChange(
            before=share[2],
            after=share[4],
            change=share[4] - share[2],
            low=-0.02,
            high=0.31,
            p=0.07,
        ),
        changes=tuple(
            find.Change(
                condition=c.name,
                clear=c.name == "insula-gamma",
                **dict(
                    zip(
                        ("before_db", "after_db", "change_db", "low_db", "high_db"),
                        figures.get(c.name, (2.1, 2.4, 0.3, -0.6, 1.2)),
                        strict=True,
                    )
                ),
            )
            for c in used.conditions
        ),
        elsewhere=ELSEWHERE,
    )


ELSEWHERE = find.Elsewhere(
    tested=340,
    false_discovery_rate=0.05,
    found=(
        find.OtherChange(
            place="insula-right",
            band="gamma",
            band_hz=(30, 45),
            change_db=2.6,
            low_db=1.4,
            high_db=3.8,
            p=0.0004,
            q=0.031,
        ),
        find.OtherChange(
            place="cuneus-left",
            band="alpha",
            band_hz=(8, 13),
            change_db=-1.7,
            low_db=-2.3,
            high_db=-1.1,
            p=0.0006,
            q=0.044,
        ),
    ),
)


def drowsiness(suspected_s: dict[int, float] | None = None, **changes) -> rec.Drowsiness:
    """Blocks with this many suspected seconds at their start; the others without a sign."""
    starts_s = {1: 0.0, 2: 125.0, 3: 390.0, 4: 440.0, 5: 720.0}
    found = suspected_s or {}
    blocks = [
        rec.DrowsyBlock(
            index=i,
            verdict="suspect" if i in found else "no-sign-found",
            looked_s=48,
            suspected_s=found.get(i, 0.0),
        )
        for i in starts_s
    ]
    spans = [
        rec.DrowsySpan(
            start_s=starts_s[i], stop_s=starts_s[i] + length, signs=("alpha-out", "theta-up")
        )
        for i, length in found.items()
    ]
    return rec.Drowsiness(spans=tuple(spans), blocks=tuple(blocks)).model_copy(update=changes)


def record(used: Protocol, found: Quality, **changes) -> rec.Record:
    data = {
        "client": "K07",
        "sitting": 3,
        "practice": "compassion",
        "settings": "s1",
        "protocol": rec.ProtocolRef(name=used.name, version=used.version),
        "status": "scored",
        "reasons": (),
        "quality": quality_summary(found),
        "drowsiness": drowsiness(),
        "conditions": condition_results(used, {}),
        "cleaned": None,
        "uncleaned": None,
        "removed_reward_share": None,
        "breaks": (),
    }
    return rec.Record(**{**data, **changes})


def replayed(used: Protocol, found: Quality, blocks, levels=((-2.0, 0.8), (0.9, 1.3), (2.5, 3.0))):
    """A scored record with its timelines; `levels` are dB over threshold before and after."""
    names = {c.name: c.direction for c in used.conditions}
    spread = {
        name: (*level, direction)
        for (name, direction), level in zip(names.items(), levels, strict=True)
    }
    raised = {n: (a + 1.2, b + 0.3, d) for n, (a, b, d) in spread.items()}
    cleaned, uncleaned = timeline(blocks, spread, 5), timeline(blocks, raised, 5)
    result = replay_result(cleaned, blocks, names)
    return Replayed(
        record=record(
            used,
            found,
            cleaned=result,
            uncleaned=replay_result(uncleaned, blocks, names),
            removed_reward_share=0.31,
            breaks=(break_result(result, used),),
            insight=sample_insight.insight([c.name for c in used.conditions]),
            evidence=EVIDENCE,
        ),
        protocol=used,
        cleaned=cleaned,
        uncleaned=uncleaned,
    )
