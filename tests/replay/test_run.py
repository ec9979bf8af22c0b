"""Worked examples on short timelines: a decision every half second."""

import numpy as np
import pytest
from cases import SETTINGS, block, condition, protocol

from aftersit.replay.baseline import Threshold, baseline_for, threshold
from aftersit.replay.grid import Grid
from aftersit.replay.run import Values, score
from aftersit.replay.summary import replay_result
from aftersit.replay.timeline import STATE_NAMES

SIGNS = dict(zip(STATE_NAMES, "o?xwg.#", strict=True))
RULES = protocol(
    condition("one", absolute=2.0),
    condition("two", direction="below", absolute=5.0),
    update_s=0.5,
    smoothing_s=0.5,
    onset_s=0.5,
    release_s=1.0,
)
FIXED = [Threshold(None, 2.0, None), Threshold(None, 5.0, None)]


def run(one, two, blocks, marks="", scored=None, rules=RULES):
    """Timeline from values of two conditions; `-` is not known.

    In `marks`, x is a row in a bad span and g one that the artefact gate holds.
    """
    value = np.array([[np.nan if c == "-" else float(c) for c in row] for row in (one, two)])
    bad, gated = (np.array([c == sign for c in marks.ljust(len(one))]) for sign in "xg")
    value[:, bad] = np.nan
    values = Values(Grid(0.5, 10, 5 * len(one)), value, bad, gated, gated)
    thresholds = (
        {b.index: FIXED for b in blocks if b.kind == "practice"} if scored is None else scored
    )
    timeline = score(values, rules, rules.conditions, blocks, thresholds)
    return timeline, replay_result(timeline, blocks, rules.conditions, thresholds, SETTINGS.insight)


def with_rules(**changes):
    return RULES.model_copy(update=changes)


def shown(timeline):
    return "".join(SIGNS[STATE_NAMES[state]] for state in timeline.state)


def test_all_conditions_must_hold_for_the_onset_time():
    timeline, result = run("3333133333", "4449944444", [block(3, "practice", 0, 5)])
    # one:  ####.#####   two: ###..#####   both: ###..#####; onset 1 step, release 2 steps
    assert shown(timeline) == ".#########"
    assert result.blocks[0].bouts == 1


def test_a_lapse_lasts_from_release_to_the_next_onset():
    timeline, result = run("3331111333", "4" * 10, [block(3, "practice", 0, 5)])
    assert shown(timeline) == ".####...##"
    [found] = result.blocks
    assert (found.median_lapse_s, found.first_bout_after_s) == (1.5, 0.5)
    assert (found.longest_bout_s, found.median_bout_s) == (2.0, 1.5)
    assert found.in_target_share == pytest.approx(3 / 5)


def test_time_to_come_back_counts_the_lapse_that_did_not_end():
    """Lapses of 1 and 1.5 s, and one of at least 2 s.

    By hand (Kaplan & Meier 1958): beyond 1 s last 2 / 3, beyond 1.5 s 2 / 3 x 1 / 2.
    """
    one = "333" + "111" + "333" + "1111" + "333" + "111111"
    timeline, result = run(one, "4" * 22, [block(3, "practice", 0, 11)])
    assert shown(timeline) == ".####..####...####...."
    assert result.blocks[0].median_lapse_s == 1.5
    _, result = run(one[-9:], "4" * 9, [block(3, "practice", 0, 4.5)])
    assert result.blocks[0].median_lapse_s is None


def test_a_bad_span_cuts_the_bout_and_is_neither_reward_nor_lapse():
    one = "3333333333333311"
    timeline, result = run(one, "4" * 6 + "--" + "4" * 8, [block(2, "practice", 0, 8)], "    xx")
    assert shown(timeline) == ".###xx??.#######"
    [found] = result.blocks
    assert [(b.start_s, b.stop_s, b.ended_by) for b in result.bouts] == [
        (0.5, 2.0, "bad"),
        (4.5, 8.0, "block-end"),
    ]
    assert found.median_lapse_s is None
    assert (found.seconds.bad_s, found.seconds.unknown_s) == (1.0, 1.0)
    assert found.in_target_share == pytest.approx(5 / 6)


def test_the_reward_starts_anew_at_block_edges_and_never_outside_practice():
    blocks = [
        block(1, "baseline", 0, 1.5),
        block(2, "practice", 1.5, 3),
        block(3, "practice", 3, 4.5),
        block(4, "break", 4.5, 6),
    ]
    timeline, result = run("3" * 14, "4" * 14, blocks)
    assert shown(timeline) == "ooo.##.##ooooo"
    assert timeline.block.tolist() == [1] * 3 + [2] * 3 + [3] * 3 + [4] * 3 + [0] * 2
    assert [b.seconds.not_scored_s for b in result.blocks] == [1.5, 0, 0, 1.5]


def test_a_block_without_threshold_is_not_scored():
    blocks = [block(1, "practice", 0, 2), block(2, "practice", 2, 5)]
    none = [Threshold(None, None, 0.0), Threshold(None, 5.0, None)]
    timeline, result = run("3" * 10, "4" * 10, blocks, scored={1: none, 2: FIXED})
    assert shown(timeline) == "oooo.#####"
    assert [b.scored for b in result.blocks] == [False, True]


def test_edges_between_decisions_are_unknown_time_and_nothing_is_lost():
    timeline, result = run("3" * 10, "4" * 10, [block(1, "practice", 0.3, 2.2)])
    # Decisions at 0.5, 1, 1.5, 2; the last holds until the block's end.
    assert shown(timeline) == "o.###ooooo"
    seconds = result.blocks[0].seconds
    assert (seconds.lead_in_s, seconds.no_reward_s, seconds.unknown_s) == pytest.approx(
        (0.2, 0.5, 0)
    )
    assert seconds.reward_s == pytest.approx(1.2)


def test_what_kept_the_reward_away():
    #                 0.5 s steps; failing:  both  one  two  onset, reward ...
    _, result = run("1133333333"[::1], "9494" + "4" * 6, [block(1, "practice", 0, 5)])
    # 0: both fail, 1: one alone, 2: two alone, 3: waits for onset, then reward
    first = dict(zip(("one", "two"), result.blocks[0].conditions, strict=True))
    assert result.blocks[0].several_failing_share == pytest.approx(1 / 4)
    assert first["one"].deciding_share == pytest.approx(1 / 4)
    assert first["two"].deciding_share == pytest.approx(1 / 4)
    assert first["one"].met_share == pytest.approx(8 / 10)
    assert first["one"].highest_db == pytest.approx(10 * np.log10(3 / 2))
    assert first["two"].median_db == pytest.approx(10 * np.log10(5 / 4))
    assert first["two"].threshold == 5


def test_a_block_that_outlasts_the_recording_has_a_tail():
    _, result = run("3" * 10, "4" * 10, [block(1, "practice", 3, 5.75)])
    seconds = result.blocks[0].seconds
    assert (seconds.reward_s, seconds.tail_s) == pytest.approx((1.5, 0.75))


def test_any_one_condition_is_enough_where_the_protocol_says_so():
    timeline, _ = run(
        "3311113311", "9999944499", [block(1, "practice", 0, 5)], rules=with_rules(combine="any")
    )
    # one: ##....##..   two: .....###..   either: ##...###..; onset 1 step, release 2 steps
    assert shown(timeline) == ".###..####"


def test_two_of_three_conditions():
    third = condition("three", absolute=7.0)
    rules = protocol(
        *(c.model_dump() for c in RULES.conditions),
        third,
        combine={"at_least": 2},
        update_s=0.5,
        smoothing_s=0.5,
        onset_s=0,
        release_s=0,
    )
    value = np.array([[3, 3, 1, 1, 3, 1.0], [4, 9, 4, 9, 4, 9], [6, 8, 8, 6, 8, 8]])
    values = Values(Grid(0.5, 10, 30), value, *np.zeros((3, 6), bool))
    fixed = {4: [*FIXED, Threshold(None, 7.0, None)]}
    blocks = [block(4, "practice", 0, 3)]
    timeline = score(values, rules, rules.conditions, blocks, fixed)
    # one: ##..#.   two: #.#.#.   three: .##.##   at least two: ###.#.
    assert shown(timeline) == "###.#."
    assert timeline.table()["deciding"].tolist() == ["", "", "", "several", "", "one|two"]
    [found] = replay_result(timeline, blocks, rules.conditions, fixed, SETTINGS.insight).blocks
    assert found.several_failing_share == found.all_failing_share == 0.5
    assert [c.deciding_share for c in found.conditions] == [0.25, 0.25, 0]


def test_nothing_is_rewarded_in_the_warm_up():
    timing = RULES.timing.model_copy(update={"warm_up_s": 1.5})
    timeline, result = run(
        "3" * 10, "4" * 10, [block(1, "practice", 0.5, 5)], rules=with_rules(timing=timing)
    )
    assert shown(timeline) == "owww.#####"
    assert result.blocks[0].seconds.warm_up_s == 1.5
    assert result.blocks[0].in_target_share == pytest.approx(5 / 6)


def test_the_artefact_gate_ends_a_bout_without_a_lapse():
    one = "3333333311"
    timeline, result = run(one, "4" * 10, [block(1, "practice", 0, 5)], "   gg")
    assert shown(timeline) == ".##gg.####"
    [found] = result.blocks
    assert (found.seconds.gated_s, found.median_lapse_s) == (1.0, None)
    assert [b.ended_by for b in result.bouts] == ["gated", "block-end"]
    # A bad span says more than the gate.
    timeline, _ = run(one, "4" * 10, [block(1, "practice", 0, 5)], "  xg")
    assert shown(timeline)[2:4] == "xg"


def test_the_highest_point_and_when_it_was_reached():
    _, result = run("1111151311", "9999888999", [block(1, "practice", 0, 5)])
    one, two = result.blocks[0].conditions
    assert (one.highest_db, one.highest_at_s) == (pytest.approx(10 * np.log10(2.5)), 2.5)
    assert (two.highest_db, two.highest_at_s) == (pytest.approx(10 * np.log10(5 / 8)), 2.0)
    assert (one.out_of_reach, two.out_of_reach) == (False, True)
    assert result.blocks[0].all_failing_share == pytest.approx(8 / 10)


def test_a_percentile_rule_takes_it_from_the_baseline():
    rule = protocol(condition(percentile_of_baseline=80)).conditions[0]
    times, value = np.arange(40) * 0.5, np.full(40, 300.0)
    value[4:15] = [2, 9, 4, 7, 12, 3, 5, 8, 6, 11, 10]
    found = threshold(rule, value, times, block(1, "baseline", 1.0, 7.0), 1.0, SETTINGS)
    # Eleven values 2 ... 12; the 80th percentile by linear interpolation is the ninth.
    assert found.value == pytest.approx(10)
    assert found.level == pytest.approx(7)


def test_the_last_baseline_before_the_practice_counts():
    blocks = [
        block(1, "baseline", 0, 10),
        block(2, "baseline", 12, 20),
        block(3, "practice", 20, 30),
        block(4, "baseline", 30, 40),
    ]
    assert baseline_for(blocks, blocks[2]).index == 2
    assert baseline_for(blocks, block(5, "practice", 11, 12)).index == 1
    assert baseline_for(blocks, block(5, "practice", 5, 12)) is None


def test_level_is_the_mean_of_windows_wholly_inside_the_baseline():
    times = np.arange(40) * 0.5
    value = np.full(40, 100.0)
    value[7:17] = [2, 4, 6, 2, 4, 6, np.nan, 4, 4, 7]
    rule = protocol(condition(db_over_baseline=3)).conditions[0]
    few = SETTINGS.model_copy(update={"baseline_min_s": 4.5})
    # Block 2.5-8 s, window 1 s: decisions at 3.5 ... 8.0 s are rows 7 ... 16.
    found = threshold(rule, value, times, block(1, "baseline", 2.5, 8), 1.0, few)
    assert found.level == pytest.approx(39 / 9)
    assert found.value == pytest.approx(39 / 9 * 10**0.3)
    assert found.usable_s == pytest.approx(4.5)
    strict = SETTINGS.model_copy(update={"baseline_min_s": 4.6})
    assert threshold(rule, value, times, block(1, "baseline", 2.5, 8), 1.0, strict).value is None
