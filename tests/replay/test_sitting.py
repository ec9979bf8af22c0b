import dataclasses

import numpy as np
import pytest
from cases import (
    BLOCKS,
    NAMES,
    RATE_HZ,
    SETTINGS,
    TWO,
    block,
    condition,
    noise,
    protocol,
    quality,
    regions,
    replay,
    sitting,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.replay.case import practices_of

SPANS = ((28.3, 30.1, "movement"), (29.5, 30.6, "pop"), (8.0, 8.4, "pop"), (60, 61, "mains"))


def reward_s(replayed, which="cleaned"):
    return sum(b.seconds.reward_s for b in getattr(replayed.record, which).blocks)


def rewarded(replayed, which="cleaned"):
    return (replayed.timelines[which]["state"] == "reward").to_numpy()


def run(*conditions, of=None, **rules):
    return replay(of or sitting(), protocol(*(conditions or TWO), **rules))


def test_both_replays_are_scored_and_agree_where_nothing_was_cleaned():
    found = run()
    assert found.record.status == "scored"
    assert 0.05 < found.record.cleaned.in_target_share < 0.8
    assert found.record.cleaned == found.record.uncleaned
    assert found.record.removed_reward_share == 0


@given(
    st.lists(st.tuples(st.floats(0, 78), st.floats(0.05, 3)), max_size=4),
    st.lists(st.floats(0.2, 79.5), min_size=2, max_size=6, unique=True),
    st.sampled_from([0.125, 0.1, 0.25]),
)
@settings(max_examples=25, deadline=None)
def test_states_tile_every_block(spans, cuts, update_s):
    spans = [(a, min(a + length, 80), "pop") for a, length in spans]
    edges = [0, *sorted(cuts), 80]
    kinds = ["baseline", "practice", "break", "practice", "rest", "practice", "rest"]
    blocks = [block(i + 1, kinds[i], edges[i], edges[i + 1]) for i in range(len(edges) - 1)]
    of = sitting(blocks=blocks, found=quality(spans=spans))
    found = run(condition(absolute=3.0), of=of, update_s=update_s)
    for result in (*found.record.cleaned.blocks, *found.record.uncleaned.blocks):
        total = sum(result.seconds.model_dump().values())
        assert total == pytest.approx(result.stop_s - result.start_s, abs=1e-6)
        assert min(result.seconds.model_dump().values()) >= 0
    assert not any(b.seconds.bad_s for b in found.record.uncleaned.blocks)


@given(st.floats(-4, 4), st.floats(0.01, 3), st.sampled_from([0, 1]), st.booleans())
@settings(max_examples=20, deadline=None)
def test_a_stricter_threshold_never_gives_more_reward(db, more, which, relative):
    def with_limit(db):
        changed = dict(TWO[which])
        changed["threshold"] = (
            {"db_over_baseline": db} if relative else {"absolute": 30 * 10 ** (db / 10)}
        )
        return [changed if i == which else TWO[i] for i in range(2)]

    stricter = db + more if TWO[which]["direction"] == "above" else db - more
    loose, strict = run(*with_limit(db)), run(*with_limit(stricter))
    assert not (rewarded(strict) & ~rewarded(loose)).any()
    assert reward_s(strict) <= reward_s(loose)


def test_all_is_never_above_any_single_condition():
    both = run()
    assert reward_s(both) > 0
    for one in TWO:
        alone = run(one)
        assert not (rewarded(both) & ~rewarded(alone)).any()


THREE = (*TWO, condition("brow", {"electrodes": ["Fp1"]}, (20, 30), "below", db_over_baseline=0))


def test_any_is_never_below_any_single_condition_and_more_needed_is_never_more():
    found = [rewarded(run(*THREE, combine={"at_least": k})) for k in (1, 2, 3)]
    assert np.array_equal(found[0], rewarded(run(*THREE, combine="any")))
    assert np.array_equal(found[2], rewarded(run(*THREE)))
    for stricter, looser in ((found[1], found[0]), (found[2], found[1])):
        assert not (stricter & ~looser).any()
        assert stricter.sum() < looser.sum()
    for one in THREE:
        assert not (rewarded(run(one)) & ~found[0]).any()


def test_relative_power_is_the_ratio_of_two_bands():
    both = run(condition("a", absolute=1.0), condition("b", band=(4, 30), absolute=1.0))
    found = run(condition("r", relative=(4, 30), absolute=0.2))
    top, bottom = (both.timelines["cleaned"][f"{n}_value"].to_numpy() for n in "ab")
    np.testing.assert_allclose(found.timelines["cleaned"]["r_value"], top / bottom, rtol=1e-12)
    [described] = found.record.conditions
    assert (described.unit, described.relative_to_hz) == ("ratio", (4, 30))
    # It is known only when both bands are: the narrower one settles later.
    assert described.settle_s == pytest.approx(both.record.conditions[0].settle_s)
    scaled = run(condition("r", relative=(4, 30), absolute=0.2), of=sitting(scale=8))
    assert scaled.timelines["cleaned"].equals(found.timelines["cleaned"])


def test_a_relative_condition_needs_both_bands_in_the_recording():
    record = run(condition(relative=(4, 62), absolute=0.2)).record
    assert record.conditions[0].refused == "band-not-in-recording"


def test_an_adaptive_rule_is_described_and_followed():
    moves = {"target_rate": 0.7, "speed_db_per_min": 2, "start": {"db_over_baseline": 6}}
    found = run(condition("a", adaptive=moves))
    [described] = found.record.conditions
    assert (described.rule, described.rule_value) == ("adaptive", 0.7)
    assert (described.start_rule, described.start_value) == ("db-over-baseline", 6)
    assert described.speed_db_per_min == 2
    second = found.record.cleaned.blocks[3].conditions[0]
    assert second.threshold_end < second.threshold
    assert found.record.cleaned.thresholds["a"] == second.threshold_end
    level = found.record.cleaned.baselines["a"]
    first = found.record.cleaned.blocks[1].conditions[0]
    assert first.threshold == pytest.approx(level * 10**0.6)


@given(st.floats(25, 75))
@settings(max_examples=10, deadline=None)
def test_no_part_of_the_uncleaned_replay_looks_ahead(at_s):
    moves = {"target_rate": 0.7, "speed_db_per_min": 6, "start": {"percentile_of_baseline": 60}}
    rules = {
        "gate": {"limit_uv": 40, "hold_s": 0.5},
        "combine": {"at_least": 2},
        "warm_up_s": 1.25,
    }
    conditions = (
        THREE[2],
        condition("a", adaptive=moves),
        condition("r", relative=(2, 40), absolute=0.1),
    )
    samples = noise(80)
    poisoned = samples.copy()
    poisoned[:, round(at_s * RATE_HZ) :] *= -7
    before, after = (
        run(*conditions, of=sitting(x), **rules).timelines["uncleaned"] for x in (samples, poisoned)
    )
    past = before["time_s"] <= at_s
    assert before[past].equals(after[past])


def test_mains_are_kept_out_of_the_uncleaned_replay_by_a_causal_notch():
    from dataclasses import replace

    of, rule = sitting(), condition("fast", {"electrodes": ["T7", "O2"]}, (38, 48), absolute=9.0)
    time = np.arange(of.uncleaned.samples.shape[1]) / RATE_HZ
    hum = of.uncleaned.samples + np.outer([0, 1e-4, 0, 0, -7e-5], np.sin(2 * np.pi * 50 * time))

    def values(samples, mains_hz):
        dirty = replace(of.uncleaned, samples=samples, mains_hz=mains_hz)
        return run(rule, of=replace(of, uncleaned=dirty)).timelines["uncleaned"]["fast_value"]

    plain, heard, notched = (
        values(s, m).mean() for s, m in ((of.uncleaned.samples, None), (hum, None), (hum, 50.0))
    )
    assert heard > 2 * plain
    assert notched == pytest.approx(plain, rel=0.1)


def test_units_scale_through():
    # A power of two changes no digit.
    plain, scaled = run(), run(of=sitting(scale=8))
    assert plain.timelines["cleaned"]["state"].equals(scaled.timelines["cleaned"]["state"])
    for name in ("alpha", "temples"):
        assert scaled.record.cleaned.thresholds[name] == 64 * plain.record.cleaned.thresholds[name]


def test_electrode_power_is_in_square_microvolts():
    # As in the engine's test: sigma 10 uV, four fifths left by the average reference.
    found = run(condition("o", {"electrodes": ["O2", "T7"]}, (20, 30), absolute=9.0))
    values = found.timelines["cleaned"]["o_value"]
    assert values.mean() == pytest.approx(0.8 * 2 * 100 / RATE_HZ * 10.26, rel=0.05)
    assert found.record.conditions[0].unit == "uV^2"


@pytest.mark.parametrize("at_s", [25, 47, 51.3])
def test_poisoning_the_future_keeps_the_uncleaned_past(at_s):
    samples = noise(80)
    poisoned = samples.copy()
    poisoned[:, round(at_s * RATE_HZ) :] *= -900
    before, after = (run(of=sitting(x)).timelines["uncleaned"] for x in (samples, poisoned))
    past = before["time_s"] <= at_s
    assert before[past].equals(after[past])
    assert not before.equals(after)


def test_bad_spans_are_bad_then_unknown_and_their_samples_reach_nothing():
    found = quality(spans=SPANS)
    samples, wild = noise(80), noise(80)
    for start, stop, _ in SPANS:
        wild[:, int(np.ceil(start * RATE_HZ)) : int(np.ceil(stop * RATE_HZ))] = 5e-3
    one, two = (run(of=sitting(x, found=found)) for x in (samples, wild))
    assert one.timelines["cleaned"].equals(two.timelines["cleaned"])
    assert not one.timelines["uncleaned"].equals(two.timelines["uncleaned"])
    table = one.timelines["cleaned"]
    inside = table[(table["time_s"] >= 28.25) & (table["time_s"] < 30.6)]
    assert set(inside["state"]) == {"bad"}
    assert inside["alpha_value"].isna().all()
    alpha, temples = one.record.conditions
    slowest = 30.6 + 0.5 + max(alpha.settle_s, temples.settle_s)
    after = table[(table["time_s"] >= 30.6) & (table["time_s"] < slowest)]
    assert set(after["state"]) == {"unknown"}
    assert table[table["time_s"] >= slowest]["state"].iloc[0] in ("reward", "no-reward")


def test_the_account_of_bad_seconds_counts_overlaps_once():
    found = run(of=sitting(found=quality(spans=SPANS))).record.quality
    assert found.bad_seconds == pytest.approx({"mains": 1, "movement": 1.8, "pop": 1.5})
    assert found.bad_seconds_by_block == pytest.approx({"1": 0.4, "2": 2.3, "3": 0, "4": 1})


@pytest.mark.parametrize(
    ("rule", "found", "blocks", "refused"),
    [
        (condition(band=(30, 60.5), absolute=1.0), quality(), BLOCKS, "band-not-in-recording"),
        (
            condition(band=(30, 64), absolute=1.0),
            quality(high_hz=80),
            BLOCKS,
            "band-not-in-recording",
        ),
        (condition(), quality(), BLOCKS[1:], "no-baseline"),
        (condition(), quality(spans=((0, 17, "pop"),)), BLOCKS, "no-baseline"),
        (condition(where={"region": "nowhere"}), quality(), BLOCKS, "region-unknown"),
        (condition(where={"electrodes": ["Cz", "Pz"]}), quality(), BLOCKS, "electrode-missing"),
    ],
)
def test_one_refused_condition_leaves_the_sitting_unscored(rule, found, blocks, refused):
    fine = condition("fine", {"region": "insula", "hemisphere": "right"}, absolute=4.0)
    record = run(rule, fine, of=sitting(blocks=blocks, found=found)).record
    assert [c.refused for c in record.conditions] == [refused, None]
    assert (record.status, record.reasons) == ("not-scored", ("a-condition-refused",))
    assert record.conditions[1].purity.share == regions().heard("insula-right").purity
    assert record.conditions[1].purity.neighbours[0] == ("cuneus-left", 0.07)
    assert record.quality.good_electrodes == NAMES
    assert (record.cleaned, record.breaks) == (None, ())


@pytest.mark.parametrize(
    ("rule", "blocks", "refused"),
    [
        (condition(where={"region": "nowhere"}), BLOCKS, "region-unknown"),
        (condition(), BLOCKS[1:], "no-baseline"),
    ],
)
def test_any_and_at_least_are_scored_by_the_conditions_that_are_left(rule, blocks, refused):
    """Any of the others is as good as any: the same as without the refused condition."""
    others = (
        condition("fine", {"region": "insula", "hemisphere": "right"}, absolute=4.0),
        condition("sensor", {"electrodes": ["Cz"]}, absolute=90.0),
    )
    for combine in ("any", {"at_least": 2}):
        here = {"of": sitting(blocks=blocks), "combine": combine}
        found, alone = run(rule, *others, **here), run(*others, **here)
        assert found.record.status == "scored"
        assert [c.refused for c in found.record.conditions] == [refused, None, None]
        assert found.record.cleaned == alone.record.cleaned
        assert found.timelines["cleaned"].equals(alone.timelines["cleaned"])
    record = run(rule, *others, of=sitting(blocks=blocks), combine={"at_least": 3}).record
    assert record.reasons == ("a-condition-refused",)


def test_an_unscored_sitting_still_shows_values_but_no_reward():
    found = run(condition(), condition("fine", absolute=4.0), of=sitting(blocks=BLOCKS[1:]))
    table = found.timelines["cleaned"]
    assert set(table["state"]) == {"outside"}
    assert table["alpha_value"].notna().any()
    assert table["alpha_met"].isna().all()


def test_all_refused_unusable_and_without_practice_are_told_apart():
    assert run(condition(band=(50, 61))).record.reasons == ("all-conditions-refused",)
    no_practice = run(condition(absolute=4.0), of=sitting(blocks=[BLOCKS[0]]))
    assert no_practice.record.reasons == ("no-practice-block",)
    unusable = quality(scorable=False, unusable=("too-few-seconds",), bad=("Fp1",))
    found = run(condition(absolute=4.0), of=sitting(found=unusable))
    assert found.record.reasons == ("too-few-seconds",)
    assert found.record.quality.bad_electrodes == {"Fp1": ("noisy",)}
    assert list(found.timelines["cleaned"].columns)[5:] == [
        "alpha_value",
        "alpha_threshold",
        "alpha_met",
    ]


def test_cautions_say_what_the_threshold_rests_on():
    blocks = [block(1, "baseline", 0, 12, "open"), *BLOCKS[1:]]
    found = run(TWO[0], condition("fixed", absolute=4.0), of=sitting(blocks=blocks))
    relative, fixed = found.record.conditions
    assert relative.cautions == ("baseline-eyes-differ", "baseline-short")
    assert fixed.cautions == ()
    strict = SETTINGS.model_copy(update={"few_electrodes": 6})
    record = replay(sitting(), protocol(*TWO), strict).record
    assert [c.cautions for c in record.conditions] == [("few-electrodes",)] * 2


def test_a_protocol_that_was_not_practised_scores_every_practice_block():
    blocks = [block(1, "practice", 0, 5, of="a"), block(2, "practice", 5, 9, of="b"), BLOCKS[2]]
    assert [b.index for b in practices_of(blocks, "b")] == [2]
    assert [b.index for b in practices_of(blocks, "other")] == [1, 2]


def test_a_practice_before_the_first_baseline_is_left_out():
    blocks = [
        block(1, "practice", 0, 12),
        block(2, "baseline", 12, 30),
        block(3, "practice", 30, 70),
    ]
    record = run(of=sitting(blocks=blocks)).record
    assert [b.scored for b in record.cleaned.blocks] == [False, False, True]


def test_delays_stand_with_each_condition():
    alpha, temples = run(smoothing_s=1.5).record.conditions
    assert alpha.smoothing_delay_s == temples.smoothing_delay_s == 0.75
    assert alpha.filter_delay_s > temples.filter_delay_s > 0.05
    assert alpha.settle_s > alpha.filter_delay_s


def test_the_longer_delay_of_both_replays_is_told():
    """Notches settle later than the band-pass alone; only the uncleaned replay has them."""
    plain, noisy = sitting(), sitting()
    noisy = dataclasses.replace(
        noisy, uncleaned=dataclasses.replace(noisy.uncleaned, mains_hz=50.0)
    )
    rule = condition("fast", {"electrodes": ["Cz"]}, (42, 58), absolute=30.0)
    without, found = (run(rule, of=of) for of in (plain, noisy))
    [short], [told] = without.record.conditions, found.record.conditions
    assert told.settle_s > short.settle_s + 0.05
    assert told.filter_delay_s >= short.filter_delay_s
    table = found.timelines["uncleaned"]
    first_s = table["time_s"][table["fast_value"].notna()].iloc[0]
    assert told.settle_s + 0.5 <= first_s + 1e-9 < told.settle_s + 0.5 + 0.126


def test_removed_reward_is_what_only_the_uncleaned_replay_gave():
    samples = noise(80)
    clean = sitting(samples)
    loud = samples.copy()
    loud[:, round(55 * RATE_HZ) : round(65 * RATE_HZ)] *= 6
    from dataclasses import replace

    both = replace(clean, uncleaned=replace(clean.uncleaned, samples=loud))
    found = run(TWO[0], of=both)
    uncleaned, cleaned = rewarded(found, "uncleaned"), rewarded(found)
    expected = (uncleaned & ~cleaned).sum() / uncleaned.sum()
    assert found.record.removed_reward_share == pytest.approx(expected)
    assert expected > 0.05


def test_neither_input_is_changed():
    of = sitting()
    kept = of.cleaned.samples.copy()
    run(of=of)
    np.testing.assert_array_equal(of.cleaned.samples, kept)


def test_a_selective_condition_runs_on_the_selective_matrix():
    where = {"region": "insula", "hemisphere": "right", "measure": "selective"}
    found = run(condition("fine", where, absolute=4.0))
    (described,) = found.record.conditions
    assert (described.refused, described.unit) == (None, "selective units")
    assert described.purity.coverage == regions().heard("insula-right", "selective").coverage
    plain = run(condition("fine", where | {"measure": "sloreta"}, absolute=4.0))
    values = [r.timelines["cleaned"]["fine_value"].mean() for r in (found, plain)]
    forms = [regions().matrix("insula-right", kind) for kind in ("selective", "sloreta")]
    # White noise, alike everywhere: power goes with the trace; 80 s know it to some 7 %.
    expected = np.trace(forms[0]) / np.trace(forms[1])
    assert values[0] / values[1] == pytest.approx(expected, rel=0.2)
