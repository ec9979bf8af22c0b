"""What the page carries for its control: each decision as steps that it could be tightened."""

import base64
import dataclasses

import numpy as np
import samples
from hypothesis import given
from hypothesis import strategies as st

from aftersit.pages.control import NOT_KNOWN, REACH_STEPS, STEP_DB, control, tightened_steps

NOT_A_STEP = 1e-6
"""Distances nearer to a step than this are left to what files have kept of them."""

distances = st.lists(
    st.floats(-40, 40).filter(
        lambda d: abs(d / STEP_DB - round(d / STEP_DB)) * STEP_DB > NOT_A_STEP
    ),
    min_size=1,
)


@given(distances, st.integers(-REACH_STEPS, REACH_STEPS))
def test_a_moved_threshold_is_met_exactly_where_the_distance_is_larger(distance_db, moved):
    """The definition of a distance to a threshold: met where it is above the move."""
    distance = np.array(distance_db)
    steps = tightened_steps(distance, distance > 0)
    np.testing.assert_array_equal(steps >= moved, distance > moved * STEP_DB)


def test_the_replay_s_own_decision_counts_where_files_have_rounded():
    steps = tightened_steps(np.array([3e-9, -3e-9, 0.0]), np.array([False, True, False]))
    np.testing.assert_array_equal(steps >= 0, [False, True, False])


def test_what_is_not_known_is_no_number_of_steps():
    distance = np.array([np.nan, np.inf, -np.inf, 2.55])
    steps = tightened_steps(distance, distance > 0)
    assert steps.tolist() == [NOT_KNOWN, 127, -127, 25]


def test_only_scored_blocks_are_carried_and_only_their_known_time():
    inputs = samples.scored()
    replay = inputs.replays[0]
    data = control(inputs, replay, "control").data
    assert [b["index"] for b in data["blocks"]] == [2, 4]
    steps = np.frombuffer(base64.b64decode(data["conditions"][0]["steps"]), np.int8)
    table = replay.cleaned[replay.cleaned["block"].isin([2, 4])]
    known = table["state"].isin(["reward", "no-reward"]).to_numpy()
    assert len(steps) == sum(b["n"] for b in data["blocks"]) == len(table)
    np.testing.assert_array_equal(steps != NOT_KNOWN, known)


def test_a_threshold_that_sets_itself_is_not_moved():
    inputs = samples.scored()
    replay = inputs.replays[0]
    first, *others = replay.record.conditions
    moves = {
        "rule": "adaptive",
        "rule_value": 0.7,
        "speed_db_per_min": 1.5,
        "start_rule": "absolute",
        "start_value": 6.0,
    }
    sets_itself = first.model_copy(update=moves)
    some = replay.record.model_copy(update={"conditions": (sets_itself, *others)})
    found = control(inputs, dataclasses.replace(replay, record=some), "control")
    assert [c["name"] for c in found.movable] == [c.name for c in others]
    every = tuple(c.model_copy(update=moves) for c in replay.record.conditions)
    none = replay.record.model_copy(update={"conditions": every})
    assert control(inputs, dataclasses.replace(replay, record=none), "control") is None
