import numpy as np
import pytest
from cases import BLOCKS, RATE_HZ, SETTINGS, TWO, block, condition, noise, protocol, replay, sitting

from aftersit.insight.breaks import breaks_of, change, clear_ones


def run(*conditions, of=None):
    return replay(of or sitting(), protocol(*(conditions or TWO)))


def louder_after(factor_db):
    samples = noise(80)
    samples[:, round(50 * RATE_HZ) :] *= 10 ** (factor_db / 20)
    return sitting(samples)


def test_few_segments_give_a_change_without_interval():
    found = change("alpha", np.array([1.0, 3]), np.array([4.0, 5, 9]), SETTINGS.insight)
    assert (found.before_db, found.after_db, found.change_db) == (2, 6, 4)
    assert (found.low_db, found.high_db, found.p) == (None, None, None)


def test_a_side_without_segments_gives_no_change():
    found = change("alpha", np.array([]), np.array([4.0, 5, 9]), SETTINGS.insight)
    assert (found.before_db, found.after_db, found.change_db) == (None, 6, None)


@pytest.mark.parametrize(
    ("p", "clear"),
    [
        ([[0.01, 0.2], [0.03, 0.02]], [[True, False], [True, True]]),
        ([[0.04, 0.5], [0.9, None]], [[False, False], [False, False]]),
        ([[0.04]], [[True]]),
    ],
)
def test_the_more_is_compared_the_more_is_asked_of_a_clear_change(p, clear):
    """Benjamini & Hochberg 1995 by hand: of four 0.0125, 0.025, 0.0375, 0.05; of three 0.017."""
    one = change("alpha", np.array([1.0, 3]), np.array([4.0, 5, 9]), SETTINGS.insight)
    breaks = [[one.model_copy(update={"p": value}) for value in row] for row in p]
    assert [[c.clear for c in row] for row in clear_ones(breaks, 0.05)] == clear


def test_a_planted_rise_is_found_in_measure_distance_and_time_in_target():
    [found] = run(of=louder_after(3)).record.breaks
    assert (found.block, found.before_block, found.after_block) == (3, 2, 4)
    for c in found.changes:
        assert c.change_db == pytest.approx(3, abs=0.9)
        assert c.low_db < 3 < c.high_db
        assert c.clear
    alpha, temples = found.distances
    assert alpha.change_db == pytest.approx(3, abs=0.9)
    assert temples.change_db == pytest.approx(-3, abs=0.9)  # it must stay below
    [alone] = run(condition(db_over_baseline=3), of=louder_after(6)).record.breaks
    assert alone.in_target.change == pytest.approx(alone.in_target.after - alone.in_target.before)
    assert alone.in_target.low < alone.in_target.change < alone.in_target.high
    assert alone.in_target.low > 0
    assert alone.in_target.p < 0.05


def test_time_in_target_is_compared_by_one_estimate():
    """Before, after and change by hand from the timeline's segments of 2 s (16 decisions)."""
    told = run(condition(db_over_baseline=1), of=louder_after(2))
    table = told.timelines["cleaned"]
    on = [(table.state[table.block == b] == "reward").to_numpy() for b in (2, 4)]
    means = [x[: len(x) // 16 * 16].reshape(-1, 16).mean(axis=1) for x in on]
    [found] = told.record.breaks
    of = found.in_target
    assert (of.before, of.after) == pytest.approx([m.mean() for m in means], abs=1e-12)
    assert of.change == pytest.approx(of.after - of.before, abs=1e-12)
    assert of.low < of.change < of.high
    assert (of.p < 0.05) == (not of.low <= 0 <= of.high)


def test_time_in_target_that_never_varies_leaves_room():
    """Never rewarded in 12 and in 15 segments of 2 s: what Clopper and Pearson 1934 leave."""
    [found] = run(condition(db_over_baseline=20)).record.breaks
    of = found.in_target
    assert (of.before, of.after, of.change) == (0, 0, 0)
    before, after = (1 - 0.025 ** (1 / n) for n in (12, 15))
    assert (of.low, of.high) == pytest.approx((-before, after))


def test_another_baseline_moves_the_distance_but_not_the_measure():
    blocks = [
        block(1, "baseline", 0, 12),
        block(2, "practice", 12, 40),
        block(3, "break", 40, 46),
        block(4, "practice", 46, 80),
    ]
    quiet = sitting(blocks=blocks)
    moved = condition(
        "a",
        {"electrodes": ["Cz"]},
        adaptive={"target_rate": 0.9, "speed_db_per_min": 12, "start": {"absolute": 30.0}},
    )
    [found] = run(moved, of=quiet).record.breaks
    # The threshold falls, the measure does not: the distance grows all the same.
    assert found.distances[0].change_db > 2
    assert abs(found.changes[0].change_db) < 1.2


def test_only_breaks_between_scored_practice_count():
    results = run(condition(absolute=3.0)).record.cleaned.blocks
    assert [b.block.index for b in breaks_of(BLOCKS, results)] == [3]
    assert breaks_of(BLOCKS[:3], results[:3]) == []
    rest_between = [*BLOCKS[:3], block(5, "rest", 50, 52), BLOCKS[3]]
    assert breaks_of(rest_between, results) == []


def test_breaks_in_a_row_are_told_once():
    results = run(condition(absolute=3.0)).record.cleaned.blocks
    several = [*BLOCKS[:3], block(5, "break", 50, 52), BLOCKS[3]]
    [found] = breaks_of(several, results)
    assert (found.before.index, found.after.index) == (2, 4)
    assert (found.block.index, found.block.start_s, found.block.stop_s) == (3, 44.05, 52)
    apart = [*several, block(6, "break", 80, 81), block(2, "practice", 81, 99)]
    assert [(b.before.index, b.after.index) for b in breaks_of(apart, results)] == [(2, 4), (4, 2)]
