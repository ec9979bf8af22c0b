"""Invented sittings for tests of pages: an invented clinic, simulated values, no person behind."""

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd

from aftersit import record as rec
from aftersit.blocks import Block, resolve
from aftersit.clinic import ClinicSettings
from aftersit.pages.inputs import Replayed, SittingInputs, Source
from aftersit.pages.review import Reviewed
from aftersit.protocol import Protocol
from aftersit.quality import Quality
from aftersit.settings import load_settings
from aftersit.sheet import Sheet

STEP_S = 0.125
ELECTRODES = (
    *("Fp1", "Fp2", "F7", "F3", "Fz", "F4", "F8", "T7", "C3", "Cz"),
    *("C4", "T8", "P7", "P3", "Pz", "P4", "P8", "O1", "O2"),
)
BAD = {"F8": ("noisy",), "P7": ("flat",)}

CLINIC = {
    "name": "Lindenhof Practice (invented)",
    "contact": {
        "who": "The front desk",
        "phone": "+00 1 234 5678",
        "urgent": "Call your local emergency number.",
    },
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}

SHEET = {
    "client": "K07",
    "practice": "compassion",
    "protocol": "warm-attention",
    "eyes": "closed",
    "instruction": "Rest with the breath, then let warmth spread.",
    "notes": "Came straight from work; jaw felt tight at first.",
    "message": "Lovely to see you settle after the pause.",
    "ratings": {"before": {"calm": 4, "tired": 5}, "after": {"calm": 7, "tired": 4}},
    "blocks": [
        {"kind": "baseline", "start": "0:00", "end": "2:00"},
        {"kind": "practice", "start": "2:05", "end": "6:30"},
        {
            "kind": "break",
            "start": "6:30",
            "end": "7:20",
            "remark": "Suggested softening jaw and brow; less trying.",
        },
        {
            "kind": "practice",
            "start": "7:20",
            "end": "12:00",
            "instruction": "Let go of the breath; stay with warmth.",
            "live_thresholds": [{"condition": "insula", "value": 4.2}],
        },
        {"kind": "rest", "start": "12:00", "end": "13:00"},
    ],
}

PROTOCOL = {
    "name": "warm-attention",
    "version": 2,
    "title": "Warm attention",
    "purpose": "Rewards fast activity seen from the right insula while jaw and brow stay quiet.",
    "practices": ["compassion"],
    "literature": "Lutz et al. 2008, PLoS ONE 3:e1897.",
    "conditions": [
        {
            "name": "insula-gamma",
            "where": {"region": "insula", "hemisphere": "right"},
            "band_hz": [35, 45],
            "direction": "above",
            "threshold": {"db_over_baseline": 1.0},
        },
        {
            "name": "cingulate-alpha",
            "where": {"region": "caudalanteriorcingulate"},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"db_over_baseline": 0.5},
        },
        {
            "name": "jaw-quiet",
            "where": {"electrodes": ["T7", "T8"]},
            "band_hz": [30, 45],
            "direction": "below",
            "threshold": {"absolute": 6.0},
        },
    ],
}

PURITY = {
    "insula-gamma": rec.Purity(
        share=0.048,
        limit=0.079,
        neighbours=(("superiortemporal-right", 0.11), ("parsorbitalis-right", 0.07)),
    ),
    "cingulate-alpha": rec.Purity(
        share=0.041, limit=0.052, neighbours=(("superiorfrontal-both", 0.19),)
    ),
    "jaw-quiet": None,
}


def protocol(**changes) -> Protocol:
    return Protocol.checked({**PROTOCOL, **changes}, "sample protocol")


def sheet(**changes) -> Sheet:
    return Sheet.checked({**SHEET, **changes}, "sample sheet")


def quality(**changes) -> Quality:
    good = [n for n in ELECTRODES if n not in BAD]
    rng = np.random.default_rng(11)
    components = [
        ("muscle", 0.91, True, 0.12),
        ("muscle", 0.83, True, 0.07),
        ("eye", 0.97, True, 0.22),
        *[("brain", 0.8, False, 0.03)] * 9,
        *[("other", 0.5, False, 0.02)] * 4,
    ]
    topographies = rng.normal(size=(len(components), len(good))).round(3)
    identity = np.eye(len(good)).tolist()
    data = {
        "rate_hz": 256.0,
        "duration_s": 780.0,
        "mains_hz": 50.0,
        "carried": {"low_hz": 1.0, "high_hz": 100.0, "notches_hz": [[49.0, 51.0]]},
        "electrodes": [
            {"name": n, "good": n not in BAD, "reasons": BAD.get(n, ())} for n in ELECTRODES
        ],
        "bad_spans": [
            {"start_s": 40.0, "stop_s": 43.5, "reason": "movement", "electrodes": ["T7", "T8"]},
            {"start_s": 301.0, "stop_s": 309.25, "reason": "movement"},
            {"start_s": 620.5, "stop_s": 622.0, "reason": "pop", "electrodes": ["C3"]},
        ],
        "components": [
            {
                "label": label,
                "probability": p,
                "removed": removed,
                "variance_share": share,
                "topography": row,
            }
            for (label, p, removed, share), row in zip(components, topographies, strict=True)
        ],
        "keep": identity,
        "muscle": identity,
        "eyes": identity,
        "usable_s": 766.75,
        "scorable": True,
    }
    return Quality.model_validate({**data, **changes})


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


def timeline(blocks, conditions: dict[str, tuple[float, float, str]], seed: int) -> pd.DataFrame:
    """Noise about (dB before the break, dB after it) of each condition's threshold."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, blocks[-1].stop_s, STEP_S)
    block = np.zeros(len(time), int)
    for b in blocks:
        block[(time >= b.start_s) & (time < b.stop_s)] = b.index
    table = {"time_s": time, "block": block}
    met_all = np.ones(len(time), bool)
    for name, (before, after, direction) in conditions.items():
        db = _smooth_noise(rng, len(time)) + np.where(time < 400, before, after)
        sign = 1 if direction == "above" else -1
        table[f"{name}_value"] = 6.0 * 10 ** (sign * db / 10)
        table[f"{name}_threshold"] = 6.0
        table[f"{name}_met"] = db > 0
        met_all &= db > 0
    table["state"] = _states(time, block, blocks, met_all)
    return pd.DataFrame(table)


def _smooth_noise(rng, n: int) -> np.ndarray:
    noise = np.zeros(n)
    steps = rng.normal(scale=0.75, size=n)
    for i in range(1, n):
        noise[i] = 0.96 * noise[i - 1] + steps[i]
    return noise


def _states(time, block, blocks, met) -> np.ndarray:
    kinds = {b.index: b.kind for b in blocks}
    state = np.array(["outside"] * len(time), dtype=object)
    held = failed = 0
    on = False
    for i in range(len(time)):
        held, failed = (held + 1, 0) if met[i] else (0, failed + 1)
        on = held >= 4 or (on and failed < 2)
        if kinds.get(block[i]) == "practice":
            state[i] = "reward" if on else "no-reward"
    for start, stop in ((40.0, 43.5), (301.0, 309.25), (620.5, 622.0)):
        inside = (time >= start) & (time < stop) & (state != "outside")
        state[inside] = "bad"
    return state


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
            )
        )
    return tuple(results)


def break_result(cleaned: rec.ReplayResult, used: Protocol) -> rec.BreakResult:
    share = {b.index: b.in_target_share for b in cleaned.blocks}
    figures = {
        "insula-gamma": (-1.9, 0.6, 2.5, 1.1, 3.9),
        "cingulate-alpha": (0.9, 1.3, 0.4, -0.8, 1.6),
    }
    return rec.BreakResult(
        block=3,
        start_s=390.0,
        stop_s=440.0,
        before_block=2,
        after_block=4,
        in_target_before=share[2],
        in_target_after=share[4],
        changes=tuple(
            rec.Change(
                condition=c.name,
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
    )


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
        ),
        protocol=used,
        cleaned=cleaned,
        uncleaned=uncleaned,
    )


def spectra(blocks) -> pd.DataFrame:
    frequency = np.arange(1.0, 80.25, 0.5)
    rows = []
    for block in blocks:
        if block.kind == "break":
            continue
        for i, name in enumerate(n for n in ELECTRODES if n not in BAD):
            alpha = (6 + i) * np.exp(-0.5 * ((frequency - 10.2) / 1.1) ** 2)
            muscle = 0.35 * np.exp(-0.5 * ((frequency - 55) / 25) ** 2) * (name in ("T7", "T8"))
            gain = 1.0 if block.kind == "baseline" else 1.25
            psd = gain * (30 / frequency**1.6 + alpha) + muscle
            psd = np.where((frequency > 49) & (frequency < 51), psd * 1e-3, psd)
            rows.append(
                pd.DataFrame(
                    {
                        "block": block.index,
                        "electrode": name,
                        "frequency_hz": frequency,
                        "psd_uv2_per_hz": psd.round(6),
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)


def bandpower(blocks) -> pd.DataFrame:
    places = [("region", "insula-right", "sLORETA^2", 4.7)]
    places += [("electrode", name, "uV^2", 3.1) for name in ("T7", "T8", "Cz")]
    rows = [
        {
            "block": block.index,
            "place_kind": kind,
            "place": place,
            "band": band,
            "low_hz": low,
            "high_hz": high,
            "power": round(level * (1 + 0.1 * block.index), 4),
            "unit": unit,
            "seconds": block.stop_s - block.start_s,
            "n_segments": int(block.stop_s - block.start_s),
        }
        for block in blocks
        if block.kind != "break"
        for kind, place, unit, level in places
        for band, low, high in (("alpha", 8.0, 13.0), ("gamma", 30.0, 45.0))
    ]
    return pd.DataFrame(rows)


def scored(**changes) -> SittingInputs:
    """A sitting that was scored, with a break after which the insula's gamma rose."""
    used, found, told = protocol(), quality(), sheet()
    blocks = tuple(resolve(told, told.blocks))
    inputs = SittingInputs(
        replays=(replayed(used, found, blocks),),
        quality=found,
        sheet=told,
        blocks=blocks,
        clinic=ClinicSettings.checked(CLINIC, "sample clinic"),
        settings=load_settings("s1"),
        date=dt.date(2026, 3, 14),
        bandpower=bandpower(blocks),
        spectra=spectra(blocks),
        software={"aftersit": "0.1.0", "mne": "1.12.1", "scipy": "1.17.0"},
        sources=(Source("sitting sheet", "ab" * 32), Source("record", "cd" * 32)),
    )
    return dataclasses.replace(inputs, **changes)


def reviewed() -> SittingInputs:
    return scored(review=Reviewed("DR2", dt.date(2026, 3, 16)))


def out_of_reach() -> SittingInputs:
    """One condition never came near its threshold; nothing was rewarded."""
    base = scored()
    levels = ((-14.0, -13.0), (0.9, 1.3), (2.5, 3.0))
    replay = replayed(protocol(), base.quality, base.blocks, levels)
    nothing = replay.record.model_copy(update={"removed_reward_share": None})
    return dataclasses.replace(base, replays=(dataclasses.replace(replay, record=nothing),))


def not_scored() -> SittingInputs:
    """Too few electrodes and seconds."""
    found = quality(
        scorable=False, unusable=("too-few-electrodes", "too-few-seconds"), usable_s=41.0
    )
    replay = Replayed(
        record(
            protocol(),
            found,
            status="not-scored",
            reasons=("too-few-electrodes", "too-few-seconds"),
        ),
        protocol(),
    )
    return scored(replays=(replay,), quality=found)


def refused() -> SittingInputs:
    """A condition's band is not in the recording."""
    found = quality(carried={"low_hz": 1.0, "high_hz": 40.0, "notches_hz": []})
    conditions = condition_results(protocol(), {"insula-gamma": "band-not-in-recording"})
    replay = Replayed(
        record(
            protocol(),
            found,
            status="not-scored",
            reasons=("a-condition-refused",),
            conditions=conditions,
        ),
        protocol(),
    )
    return scored(replays=(replay,), quality=found)


def two_protocols() -> SittingInputs:
    """A scored protocol and one that was refused in the same sitting."""
    return scored(replays=(*scored().replays, *refused().replays))


HOSTILE = (
    "</style><script>window.leak=1</script><img src=x onerror=leak()> {{ 7*7 }} {% raw %} "
    "javascript:leak() ]]> & \" ' https://evil.invalid/x.png \u202eright to left\u202c 🌿 "
)


def hostile() -> SittingInputs:
    """Every free text of the sheet tries to break out."""
    rows = [{**b, "remark": HOSTILE, "instruction": HOSTILE} for b in SHEET["blocks"]]
    told = sheet(notes=HOSTILE * 20, message=HOSTILE, instruction=HOSTILE, blocks=rows)
    clinic = ClinicSettings.checked({**CLINIC, "name": HOSTILE[:100]}, "sample clinic")
    return scored(sheet=told, clinic=clinic)
