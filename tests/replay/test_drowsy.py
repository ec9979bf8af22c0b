"""The rule on invented signs with a known answer, one value every 2 s."""

import numpy as np
import pytest
from cases import DROWSY
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.blocks import Block
from aftersit.quality import DrowsySigns
from aftersit.record import Bout
from aftersit.replay.drowsy import drowsiness
from aftersit.replay.drowsy_steps import moving_median
from aftersit.sheet import Kind

N = 240
"""Steps: 8 minutes."""
SPELL = slice(100, 130)
"""200-260 s."""


def block(start_s=0.0, stop_s=480.0, eyes="closed", index=1) -> Block:
    return Block(index, Kind.PRACTICE, start_s, stop_s, eyes, "none")


def row(rest, spell) -> tuple[float, ...]:
    values = np.full(N, float(rest))
    values[SPELL] = spell
    return tuple(values.tolist())


def signs(alpha=17.0, theta=6.0, rolls=-7.0, **changes) -> DrowsySigns:
    """Awake at 17 dB of alpha and 6 dB of theta; the values given hold in the spell."""
    told = {
        "alpha_db": row(17.0, alpha),
        "theta_db": row(6.0, theta),
        "rolls_db": row(-7.0, rolls),
        "alpha_stands_db": 9.0,
        "limits": (),
    }
    return DrowsySigns(**{**told, **changes})


def judged(found: DrowsySigns, *blocks: Block, bouts=()):
    return drowsiness(found, blocks or (block(),), bouts, DROWSY)


# Settings of the tests: alpha out from 3 dB, theta up from 2, together 6, rolling from 5.
@pytest.mark.parametrize(
    ("closed", "opened", "spell"),
    [
        (True, False, {"alpha": 12.5, "theta": 8.1}),
        (True, False, {"alpha": 13.8, "rolls": 5.5}),
        (True, True, {"theta": 8.3, "rolls": 5.5}),
        (False, False, {"alpha": 13.8, "theta": 8.3}),
        (False, False, {"alpha": 5.0}),
        (False, False, {"theta": 14.0}),
        (False, False, {"rolls": 25.0}),
        (False, False, {"alpha": 14.2, "theta": 7.8, "rolls": 25.0}),
    ],
    ids=str,
)
def test_signs_count_only_together(closed, opened, spell):
    assert bool(judged(signs(**spell)).spans) is closed
    assert bool(judged(signs(**spell), block(eyes="open")).spans) is opened


def test_a_span_has_the_spells_times_and_names_its_signs():
    (span,) = judged(signs(alpha=11.0, theta=9.0)).spans
    assert (span.start_s, span.stop_s) == (200.0, 260.0)
    assert span.signs == ("alpha-out", "theta-up")
    (span,) = judged(signs(alpha=11.0, rolls=8.0)).spans
    assert span.signs == ("alpha-out", "slow-rolls")


def test_a_block_is_suspect_by_what_lies_in_it():
    blocks = (block(0.0, 190.0), block(190.0, 230.0, index=2), block(230.0, 480.0, index=3))
    told = judged(signs(alpha=11.0, theta=9.0), *blocks).blocks
    assert [b.verdict for b in told] == ["no-sign-found", "suspect", "suspect"]
    assert [b.suspected_s for b in told] == [0.0, 30.0, 30.0]
    assert [b.looked_s for b in told] == [190.0, 40.0, 250.0]


def test_what_lies_outside_all_blocks_is_not_judged():
    result = judged(signs(alpha=11.0, theta=9.0), block(0.0, 200.0), block(260.0, 480.0, index=2))
    assert result.spans == ()
    assert [b.verdict for b in result.blocks] == ["no-sign-found"] * 2


def test_share_of_reward_inside_spans():
    bouts = [
        Bout(block=1, start_s=150.0, stop_s=210.0),
        Bout(block=1, start_s=255.0, stop_s=285.0),
        Bout(block=2, start_s=390.0, stop_s=400.0),
    ]
    blocks = (block(0.0, 380.0), block(380.0, 450.0, index=2), block(450.0, 480.0, index=3))
    result = judged(signs(alpha=11.0, theta=9.0), *blocks, bouts=bouts)
    # 10 s and 5 s of 60 s, 30 s and 10 s.
    assert result.reward_share == pytest.approx(0.15)
    assert result.blocks[0].reward_share == pytest.approx(15 / 90)
    assert [b.reward_share for b in result.blocks[1:]] == [0.0, None]


def test_short_spells_are_left_out_and_near_ones_joined():
    alpha, theta = np.full(N, 17.0), np.full(N, 6.0)
    for part in (slice(60, 65), slice(100, 112), slice(115, 126)):
        alpha[part], theta[part] = 11.0, 9.0
    found = signs(alpha_db=tuple(alpha.tolist()), theta_db=tuple(theta.tolist()))
    # 10 s is shorter than the least 12; the gap of 6 s lies within the 7 that are bridged.
    assert [(s.start_s, s.stop_s) for s in judged(found).spans] == [(200.0, 252.0)]


def test_each_eyes_state_has_its_own_level():
    """Alpha falls by 9 dB and theta rises where eyes open: no sign of anything."""
    alpha, theta = np.full(N, 17.0), np.full(N, 6.0)
    alpha[120:], theta[120:] = 8.0, 8.5
    found = signs(alpha_db=tuple(alpha.tolist()), theta_db=tuple(theta.tolist()))
    other = judged(found, block(0, 240.0), block(240.0, 480.0, "open", 2))
    assert other.spans == ()
    assert [(b.verdict, b.reasons) for b in other.blocks] == [
        ("no-sign-found", ()),
        ("cant-tell", ("eyes-open",)),
    ]
    assert judged(found, block(0, 240.0), block(240.0, 480.0, "closed", 2)).spans


def unknown(values, part) -> tuple:
    return tuple(None if i in range(N)[part] else v for i, v in enumerate(values))


@pytest.mark.parametrize(
    ("found", "verdict", "reasons"),
    [
        (DrowsySigns(), "cant-tell", ("not-measured",)),
        (signs(alpha_stands_db=2.1), "cant-tell", ("no-alpha",)),
        (
            signs(alpha_db=(), theta_db=(), limits=("no-posterior-electrodes",)),
            "cant-tell",
            ("no-posterior-electrodes",),
        ),
        (
            signs(rolls_db=(), limits=("slow-waves-not-recorded",)),
            "no-sign-found",
            ("slow-waves-not-recorded",),
        ),
        (
            signs(rolls_db=(), alpha_stands_db=2.1, limits=("no-eye-electrodes",)),
            "cant-tell",
            ("no-eye-electrodes", "no-alpha"),
        ),
        (
            signs(
                alpha_db=unknown(row(17, 17), slice(20, 240)),
                theta_db=unknown(row(6, 6), slice(20, 240)),
            ),
            "cant-tell",
            ("too-few-seconds",),
        ),
        (
            signs(
                alpha_db=unknown(row(17, 17), slice(15, 240)),
                theta_db=unknown(row(6, 6), slice(15, 240)),
            ),
            "cant-tell",
            ("no-level",),
        ),
    ],
)
def test_what_the_rule_can_not_tell_it_says(found, verdict, reasons):
    (told,) = judged(found).blocks
    assert (told.verdict, told.reasons) == (verdict, reasons)


def test_rolling_still_tells_where_there_is_no_alpha_to_lose():
    (told,) = judged(signs(theta=9.0, rolls=9.0, alpha_stands_db=2.1)).blocks
    assert told.verdict == "suspect"


@settings(max_examples=30, deadline=None)
@given(
    st.integers(0, 2**16),
    st.floats(-40, 40),
    st.floats(-40, 40),
    st.sampled_from(["closed", "open"]),
)
def test_only_differences_to_the_own_level_count(seed, more_alpha_db, more_theta_db, eyes):
    rng = np.random.default_rng(seed)
    rows = [np.cumsum(rng.normal(0, 1.5, N)) for _ in range(3)]

    def told(alpha_db, theta_db):
        found = signs(
            alpha_db=tuple((rows[0] + alpha_db).tolist()),
            theta_db=tuple((rows[1] + theta_db).tolist()),
            rolls_db=tuple(rows[2].tolist()),
        )
        return judged(found, block(eyes=eyes))

    assert told(more_alpha_db, more_theta_db) == told(0.0, 0.0)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**16), st.integers(2, 9), st.floats(0, 0.6))
def test_moving_median_against_a_plain_one(seed, size, gaps):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=31)
    values[rng.random(31) < gaps] = np.nan
    half = size // 2
    for i, found in enumerate(moving_median(values, size)):
        window = values[max(i - half, 0) : i + half + 1]
        known = np.sort(window[~np.isnan(window)])
        if np.isnan(values[i]) or known.size <= half:
            assert np.isnan(found)
        else:
            middle = (known[(known.size - 1) // 2] + known[known.size // 2]) / 2
            assert found == pytest.approx(middle)


def test_inputs_stay_as_they_are():
    found = signs(alpha=11.0, theta=9.0)
    before = found.model_dump_json()
    assert judged(found) == judged(found)
    assert found.model_dump_json() == before
