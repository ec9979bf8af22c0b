import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aftersit.replay import logic


def flags(text):
    return np.array([c == "#" for c in text])


def shown(states):
    return "".join("#" if on else "." for on in states)


@pytest.mark.parametrize(
    ("onset", "release", "held", "rewarded"),
    [
        # Worked by hand; one sign for each decision.
        (0, 0, ".##.#..", ".##.#.."),
        (2, 0, "..####..", "....##.."),
        (2, 0, ".##.###.", "......#."),
        (0, 2, "#..#...#", "######.#"),
        (1, 2, ".##.##...###", "..######..##"),
        (3, 1, "###.####.##..", ".......#####."),
    ],
)
def test_onset_and_release_by_hand(onset, release, held, rewarded):
    assert shown(logic.reward(flags(held), onset, release)) == rewarded


@pytest.mark.parametrize(
    ("duration", "update", "steps"),
    [(0.5, 0.125, 4), (0.3, 0.1, 3), (0.26, 0.125, 3), (0, 0.25, 0)],
)
def test_timing_lasts_at_least_as_long_as_asked(duration, update, steps):
    assert logic.steps_for(duration, update) == steps


@given(
    st.lists(st.tuples(st.booleans(), st.booleans()), max_size=80),
    st.integers(0, 5),
    st.integers(0, 5),
)
def test_less_that_holds_never_rewards_more(pairs, onset, release):
    more = np.array([a or b for a, b in pairs], dtype=bool)
    less = np.array([a for a, _ in pairs], dtype=bool)
    rewarded_less = logic.reward(less, onset, release)
    assert not (rewarded_less & ~logic.reward(more, onset, release)).any()


def test_the_deciding_condition_would_have_switched_the_gate_alone():
    met = np.array([flags("##..#"), flags("#.#.#"), flags("###.#")])
    alone = logic.deciding(met, 3)
    assert [shown(row) for row in alone] == ["#.#.#", "##..#", "#...#"]
    assert [shown(row) for row in logic.deciding(met, 2)] == [".#...", "..#..", ".##.."]


@given(st.integers(1, 4), st.data())
def test_deciding_equals_flipping(needed, data):
    column = data.draw(st.lists(st.booleans(), min_size=4, max_size=4))
    met = np.array(column)[:, np.newaxis]
    for i in range(4):
        flipped = met.copy()
        flipped[i] = ~flipped[i]
        switched = logic.gate(flipped, needed)[0] != logic.gate(met, needed)[0]
        assert logic.deciding(met, needed)[i, 0] == switched


def test_distance_is_positive_where_met_in_both_directions():
    value, threshold = np.array([8.0, 2.0]), np.array([4.0, 4.0])
    np.testing.assert_allclose(
        logic.distance_db(value, threshold, "above"), [3.0103, -3.0103], 1e-4
    )
    np.testing.assert_allclose(
        logic.distance_db(value, threshold, "below"), [-3.0103, 3.0103], 1e-4
    )
    assert logic.is_met(value, threshold, "above").tolist() == [True, False]
    assert logic.is_met(value, threshold, "below").tolist() == [False, True]
    assert not logic.is_met(np.array([np.nan]), threshold[:1], "below").any()


def test_runs_have_the_limits_of_equal_labels():
    assert logic.runs(np.array([4, 4, 1, 1, 1, 4])) == [(0, 2), (2, 5), (5, 6)]
    assert logic.runs(np.array([])) == []
