"""Records for every branch of the handout's wording, made from the invented sittings."""

from sample_given import protocol, quality, sheet
from sample_records import condition_results, drowsiness, record, replayed

from aftersit.blocks import resolve
from aftersit.protocol import Protocol
from aftersit.record import Record
from aftersit.record_muscle import BlockMuscle, MuscleAccount, MuscleFinding

ONE_CONDITION = {
    "conditions": [
        {
            "name": "posterior-alpha",
            "where": {"region": "lateraloccipital"},
            "band_hz": [8, 12.5],
            "direction": "above",
            "threshold": {"db_over_baseline": 1.0},
        }
    ]
}


def blocks():
    told = sheet()
    return tuple(resolve(told, told.blocks))


def scored(used: Protocol | None = None, **changes) -> Record:
    used = used or protocol()
    levels = ((-2.0, 0.8), (0.9, 1.3), (2.5, 3.0))[: len(used.conditions)]
    return replayed(used, quality(), blocks(), levels).record.model_copy(update=changes)


def unmet(levels, used: Protocol | None = None, **changes) -> Record:
    """A record without bouts, its conditions at these levels over threshold."""
    found = replayed(used or protocol(), quality(), blocks(), levels).record
    results = tuple(
        b.model_copy(update={"bouts": 0, "seconds": _no_reward(b.seconds)})
        for b in found.cleaned.blocks
    )
    cleaned = found.cleaned.model_copy(update={"blocks": results, "bouts": (), "bouts_total": 0})
    return found.model_copy(update={"cleaned": cleaned, **changes})


def _no_reward(seconds):
    total = seconds.reward_s + seconds.no_reward_s
    return seconds.model_copy(update={"reward_s": 0.0, "no_reward_s": total})


def one_bout() -> Record:
    found = unmet(((-2.0, 0.8), (0.9, 1.3), (2.5, 3.0)))
    bout = scored().cleaned.bouts[0].model_copy(update={"start_s": 200.0, "stop_s": 217.25})
    results = tuple(
        _with_reward(b, 17.25) if b.index == bout.block else b for b in found.cleaned.blocks
    )
    update = {"blocks": results, "bouts": (bout,), "bouts_total": 1, "longest_bout_s": 17.25}
    return found.model_copy(update={"cleaned": found.cleaned.model_copy(update=update)})


def _with_reward(block, reward_s):
    left = block.seconds.no_reward_s - reward_s
    seconds = block.seconds.model_copy(update={"reward_s": reward_s, "no_reward_s": left})
    return block.model_copy(update={"bouts": 1, "seconds": seconds})


def crossings() -> Record:
    """Two dozen bouts of a second, as a signal that hovers at its threshold makes them."""
    found = unmet(((-0.4, 0.6),), protocol(**ONE_CONDITION))
    starts = [130.0 + 10 * n for n in range(24)]
    bout = scored().cleaned.bouts[0]
    bouts = tuple(
        bout.model_copy(update={"block": 2, "start_s": s, "stop_s": s + 1.25}) for s in starts
    )
    results = tuple(
        _with_reward(b, 30.0).model_copy(update={"bouts": 24}) if b.index == 2 else b
        for b in found.cleaned.blocks
    )
    update = {
        "blocks": results,
        "bouts": bouts,
        "bouts_total": 24,
        "longest_bout_s": 1.25,
        "in_target_share": 0.056,
    }
    cleaned = found.cleaned.model_copy(update=update)
    return found.model_copy(update={"cleaned": cleaned, "uncleaned": cleaned})


def far_apart(n_bad: int) -> Record:
    """The uncleaned signal rewards far less; this many electrodes were left out."""
    found = scored()
    bad = dict(list(found.quality.bad_electrodes.items())[:n_bad])
    return found.model_copy(
        update={
            "uncleaned": found.uncleaned.model_copy(update={"in_target_share": 0.013}),
            "quality": found.quality.model_copy(update={"bad_electrodes": bad}),
        }
    )


def not_scored(*reasons: str) -> Record:
    return record(protocol(), quality(), status="not-scored", reasons=reasons)


def refused(why: str, reason: str = "a-condition-refused") -> Record:
    conditions = condition_results(protocol(), {"insula-gamma": why})
    return not_scored(reason).model_copy(update={"conditions": conditions})


def cautioned(code: str) -> Record:
    found = scored()
    first, *rest = found.conditions
    marked = first.model_copy(update={"cautions": (code,)})
    return found.model_copy(update={"conditions": (marked, *rest)})


def lost(share: float) -> Record:
    """A record in which this share of the practice could not be used."""
    found = scored()
    results = []
    for b in found.cleaned.blocks:
        known = b.stop_s - b.start_s if b.scored else 0.0
        seconds = {
            "no_reward_s": known * (1 - share) - b.seconds.reward_s if b.scored else 0.0,
            "bad_s": known * share,
        }
        results.append(b.model_copy(update={"seconds": b.seconds.model_copy(update=seconds)}))
    cleaned = found.cleaned.model_copy(update={"blocks": tuple(results)})
    return found.model_copy(update={"cleaned": cleaned})


def drowsy(found: Record, reward_share: float | None) -> Record:
    """Signs for 44 s and 38 s of the two practice blocks."""
    signs = drowsiness({2: 44.0, 4: 38.0}, reward_share=reward_share)
    return found.model_copy(update={"drowsiness": signs})


def tense(found: Record, verdict: str = "suspect", block: int = 2) -> Record:
    """A muscle verdict on one practice block."""
    finding = MuscleFinding(
        verdict=verdict,
        score=0.83,
        share=0.62,
        level_db=7.4,
        slope=-0.7,
        follows=0.21,
        reasons=("share-of-measure", "fast-level", "flat-spectrum"),
    )
    blocks = (BlockMuscle(block=block, condition="inner", finding=finding),)
    account = MuscleAccount(upper_to_hz=115.0, directions=3, blocks=blocks)
    return found.model_copy(update={"muscle": account})


def without_components(found: Record) -> Record:
    summary = found.quality.model_copy(update={"components_removed": {"channel": 1}})
    return found.model_copy(update={"quality": summary})


def cases() -> dict[str, tuple[list[Record], bool]]:
    """Branch -> records and whether something unpleasant was coded."""
    one = protocol(**ONE_CONDITION)
    far = ((-14.0, -13.0), (0.9, 1.3), (2.5, 3.0))
    near = ((-0.4, 0.6), (0.9, 1.3), (2.5, 3.0))
    return {
        "bouts": ([scored()], False),
        "one condition": ([scored(one)], False),
        "any": ([scored(needed=1)], False),
        "two of three": ([scored(needed=2)], False),
        "one bout": ([one_bout()], False),
        "all usable": ([lost(0.0)], False),
        "half usable": ([lost(0.43)], False),
        "unpleasant": ([scored()], True),
        "unpleasant, not scored": ([not_scored("too-few-seconds")], True),
        "unpleasant, out of reach": ([unmet(far)], True),
        "unpleasant, muscle": ([scored(removed_reward_share=0.7)], True),
        "not clear": ([not_scored("too-few-electrodes", "too-few-seconds")], False),
        "no practice": ([not_scored("no-practice-block")], False),
        "no rhythm": ([refused("band-not-in-recording")], False),
        "no baseline": ([refused("no-baseline")], False),
        "no place": ([refused("electrode-missing", "all-conditions-refused")], False),
        "muscle": ([scored(removed_reward_share=0.64)], False),
        "muscle, no bouts": ([unmet(near, removed_reward_share=0.97)], False),
        "cleaned": ([without_components(scored(removed_reward_share=0.64))], False),
        "out of reach": ([unmet(far)], False),
        "not together": ([unmet(near)], False),
        "too short": ([unmet(((-0.4, 0.6),), one)], False),
        "crossings": ([crossings()], False),
        "drowsy": ([drowsy(scored(), 0.07)], False),
        "drowsy goal": ([drowsy(scored(), 0.34)], False),
        "drowsy, out of reach": ([drowsy(unmet(far), None)], False),
        "drowsy, unpleasant": ([drowsy(scored(), 0.34)], True),
        "drowsy in the baseline": ([scored(drowsiness=drowsiness({1: 31.0}))], False),
        "tense": ([tense(scored())], False),
        "tense, drowsy": ([tense(drowsy(scored(), 0.07))], False),
        "tense, unpleasant": ([tense(scored())], True),
        "tense, muscle gone": ([tense(scored(removed_reward_share=0.64))], False),
        "no muscle sign": ([tense(scored(), "no-sign-found")], False),
        "tense in the baseline": ([tense(scored(), block=1)], False),
        "one sensor": ([far_apart(1)], False),
        "two sensors": ([far_apart(2)], False),
        "eyes": ([cautioned("baseline-eyes-differ")], False),
        "less sure": ([cautioned("baseline-short")], False),
        "two protocols": ([scored(), refused("band-not-in-recording")], False),
    }
