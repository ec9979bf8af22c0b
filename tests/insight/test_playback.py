import numpy as np
import pytest
from cases import BLOCKS, TWO, protocol, quality, sitting
from cases import replay as run
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.insight.playback import Playback
from aftersit.replay.timeline import REWARD, STATE_NAMES, Timeline

RULES = protocol(*TWO)


def timeline_of(replayed):
    """The timeline again from its table."""
    table = replayed.timelines["cleaned"]
    codes = {name: code for code, name in enumerate(STATE_NAMES)}
    columns = [(f"{c['name']}_value", f"{c['name']}_threshold") for c in TWO]
    return Timeline(
        times_s=table["time_s"].to_numpy(),
        duration_s=80.0,
        block=table["block"].to_numpy(),
        state=table["state"].map(codes).to_numpy(),
        names=tuple(c["name"] for c in TWO),
        directions=tuple(c["direction"] for c in TWO),
        value=np.array([table[v] for v, _ in columns]),
        threshold=np.array([table[t] for _, t in columns]),
        met=np.array([table[f"{c['name']}_met"] == 1 for c in TWO]),
        needed=2,
        swung=np.zeros(len(table), bool),
    )


@given(st.lists(st.tuples(st.floats(20, 78), st.floats(0.05, 3)), max_size=4))
@settings(max_examples=8, deadline=None)
def test_playing_what_was_again_gives_what_was(spans):
    spans = [(a, min(a + length, 80), "pop") for a, length in spans]
    found = run(sitting(found=quality(spans=spans)), RULES)
    timeline = timeline_of(found)
    played = Playback.of(timeline, [BLOCKS[1], BLOCKS[3]], RULES)
    rewarded = played.rewarded(played.met.sum(axis=0))
    np.testing.assert_array_equal(rewarded, timeline.state[played.rows] == REWARD)
    longest = played.longest_s(rewarded)
    assert longest <= found.record.cleaned.longest_bout_s + 1e-9


def by_hand(runs, blocks):
    """Two conditions over ten decisions of a quarter second; onset 1 step, release 0."""
    distance = np.array([[1, 2, -1, 3, 4, 5, -2, 1, 1, 2.5], [1, 1, 1, 1, -3, 1, 1, 1, 2, 2]])
    return Playback(distance, blocks, runs, np.arange(10), 0.25, 2, 1, 0)


def test_the_reward_starts_anew_at_every_gap():
    whole = by_hand(((0, 10),), ((0, 10),))
    assert whole.rewarded(whole.met.sum(axis=0)).nonzero()[0].tolist() == [1, 8, 9]
    broken = by_hand(((0, 9), (9, 10)), ((0, 10),))
    assert broken.rewarded(broken.met.sum(axis=0)).nonzero()[0].tolist() == [1, 8]
    assert broken.longest_s(broken.rewarded(broken.met.sum(axis=0))) == 0.25
    assert whole.longest_s(whole.rewarded(whole.met.sum(axis=0))) == 0.5


def test_moving_thresholds_by_hand():
    whole = by_hand(((0, 10),), ((0, 10),))
    # The second eased by 4 dB: both met at 0, 1, 3, 4, 5, 7, 8, 9; rewarded from the second on.
    assert whole.reward_share([0, -4]) == pytest.approx(5 / 10)
    assert whole.reward_share([2.2, -4]) == pytest.approx(2 / 10)


def test_a_part_keeps_its_limits():
    part = by_hand(((0, 4), (4, 10)), ((0, 6), (6, 10))).part(2, 8)
    assert part.runs == ((0, 2), (2, 6))
    assert part.blocks == ((0, 4), (4, 6))
    assert part.distance_db[0].tolist() == [-1, 3, 4, 5, -2, 1]
