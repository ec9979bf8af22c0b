import numpy as np
import pytest
from cases import RATE_HZ, SETTINGS, TWO, block, condition, noise, protocol, quality, sitting
from cases import replay as run
from scipy import signal, stats

from aftersit.insight.advice import Held, advise, may_move, thresholds_for
from aftersit.insight.playback import Playback

CHOSEN = SETTINGS.insight.model_copy(update={"advice_known_s": 60})
RULES = protocol(
    condition("one", db_over_baseline=1.5), condition("two", direction="below", absolute=7.0)
)


def series(seed, n=8000, shift=(0.0, 0.0)):
    x = np.random.default_rng(seed).normal(size=(2, n + 300))
    x = signal.lfilter([np.sqrt(1 - 0.8**2)], [1, -0.8], x)[:, 300:]
    return x * 3 + np.array(shift)[:, np.newaxis]


def played(distance, onset=0, release=0):
    n = distance.shape[1]
    return Playback(distance, ((0, n),), ((0, n),), np.arange(n), 0.125, 2, onset, release)


def held(level_error_db=0.2):
    one, two = RULES.conditions
    return [Held(one, 4.0, 2.0, level_error_db), Held(two, 7.0, None, None)]


def test_the_thresholds_give_the_target_rate():
    for onset, release in ((0, 0), (4, 2)):
        of = played(series(3), onset, release)
        moves = thresholds_for(of, 0.6, np.array([True, True]))
        assert of.reward_share(moves) == pytest.approx(0.6, abs=0.002)


def test_independent_conditions_are_each_met_by_the_root_of_the_target():
    # Without timing the joint rate of two independent conditions is p squared.
    moves = thresholds_for(played(series(5, 80_000)), 0.49, np.array([True, True]))
    np.testing.assert_allclose(moves, stats.norm.ppf(0.3) * 3, atol=0.15)


def test_a_guard_that_fails_too_often_puts_the_target_out_of_reach():
    of = played(series(3, shift=(0.0, -1.0)))  # the second is met in 37 %
    assert thresholds_for(of, 0.6, np.array([True, False])) is None
    found = advise(of, [held()[0], guard()], (), CHOSEN, 20.0)
    assert found.refused == ("out-of-reach",)


def guard():
    fast = condition("jaw", {"electrodes": ["T7"]}, (30, 45), "below", db_over_baseline=2)
    return Held(protocol(fast).conditions[0], 6.0, 4.0, 0.2)


def test_a_guard_against_muscle_is_never_loosened():
    assert not may_move(guard().condition, 20.0)
    assert may_move(guard().condition, 32.0)
    assert all(may_move(h.condition, 20.0) for h in held())
    of = played(series(3, shift=(0.0, 4.0)))
    found = advise(of, [held()[0], guard()], (), CHOSEN, 20.0)
    assert [t.condition for t in found.thresholds] == ["one"]


def test_the_step_is_limited_and_the_rate_is_of_the_limited_step():
    of = played(series(3, shift=(-8.0, 3.0)))
    found = advise(of, held(), (), CHOSEN, 20.0)
    one, two = found.thresholds
    assert (one.stricter_db, one.limited) == (-2, True)
    assert one.value == pytest.approx(4.0 * 10**-0.2)
    assert one.db_over_baseline == pytest.approx(10 * np.log10(2) - 2)
    # The second goes the other way: below 7 becomes stricter by falling.
    assert two.value == pytest.approx(7.0 * 10 ** (-two.stricter_db / 10))
    assert two.db_over_baseline is None
    assert found.expected_share == pytest.approx(of.reward_share([-2, two.stricter_db]))
    assert found.expected_share < 0.1


def test_the_interval_widens_with_an_unsure_baseline_and_holds_the_truth():
    # Met with p = sqrt(0.7) by independent conditions; the truth is the normal quantile.
    truth = stats.norm.ppf(1 - 0.7**0.5) * 3 + 10 * np.log10(2)
    wide = CHOSEN.model_copy(update={"advice_step_db": 6})
    inside = []
    for seed in range(60):
        sure = advise(played(series(seed, 4000)), held(0.0), (), wide, 20.0).thresholds[0]
        unsure = advise(played(series(seed, 4000)), held(0.4), (), wide, 20.0).thresholds[0]
        assert unsure.low_db < sure.low_db < sure.db_over_baseline < sure.high_db < unsure.high_db
        inside.append(sure.low_db < truth < sure.high_db)
    assert np.mean(inside) >= 0.9


def test_a_baseline_too_short_to_say_how_sure_it_is_gives_no_interval():
    one, _ = advise(played(series(3)), held(None), (), CHOSEN, 20.0).thresholds
    assert one.db_over_baseline is not None
    assert (one.low_db, one.high_db) == (None, None)
    # From the signal: 12 s of baseline hold 5 whole segments of 2 s, and 5 cosines need 6.
    short = sitting(noise(170), blocks=[block(1, "baseline", 0, 12), block(2, "practice", 12, 169)])
    chosen = SETTINGS.model_copy(update={"insight": CHOSEN})
    found = run(short, protocol(condition(db_over_baseline=0.5)), chosen).record.insight.advice
    assert [(t.low_db, t.high_db) for t in found.thresholds] == [(None, None)]


def test_a_steady_sitting_gives_the_rate_in_its_other_half():
    found = advise(played(series(3, 16_000)), held(), (), CHOSEN, 20.0)
    assert found.halves == pytest.approx((0.7, 0.7), abs=0.05)
    assert found.steady
    drifting = series(3, 16_000) + np.linspace(-6, 6, 16_000)
    found = advise(played(drifting), held(), (), CHOSEN, 20.0)
    assert found.steady is False


@pytest.mark.parametrize(
    ("of", "rules", "code"),
    [
        (sitting(), protocol(*TWO), "too-little-known"),
        (
            sitting(blocks=[block(1, "baseline", 0, 20, "open"), block(2, "practice", 20, 80)]),
            protocol(*TWO),
            "baseline-eyes-differ",
        ),
        (
            sitting(),
            protocol(
                condition(
                    adaptive={"target_rate": 0.7, "speed_db_per_min": 1, "start": {"absolute": 5}}
                )
            ),
            "sets-itself",
        ),
    ],
)
def test_no_advice_where_it_would_be_hollow(of, rules, code):
    found = run(of, rules).record.insight.advice
    assert code in found.refused
    assert (found.thresholds, found.expected_share) == ((), None)


def test_no_advice_when_cleaning_took_most_of_the_reward():
    from dataclasses import replace

    calm = sitting(noise(80))
    loud = noise(80)
    loud[:, round(20 * RATE_HZ) :] *= 3
    both = replace(calm, uncleaned=replace(calm.uncleaned, samples=loud))
    record = run(both, protocol(condition(db_over_baseline=4.0))).record
    assert record.removed_reward_share > 0.5
    assert "reward-mostly-removed" in record.insight.advice.refused


def test_a_drowsy_sitting_gets_no_advice(monkeypatch):
    from aftersit.record import Drowsiness, DrowsyBlock
    from aftersit.replay import sitting as module

    half = DrowsyBlock(index=4, verdict="suspect", looked_s=25, suspected_s=13)
    found = Drowsiness(spans=(), blocks=(half,))
    monkeypatch.setattr(module, "drowsiness", lambda *_: found)
    assert "drowsy" in run(sitting(), protocol(*TWO)).record.insight.advice.refused


def test_what_looks_like_muscle_is_no_ground_for_advice():
    from types import SimpleNamespace

    from aftersit.insight.account import no_advice
    from aftersit.record_muscle import BlockMuscle, MuscleAccount, MuscleFinding

    record = run(sitting(), protocol(*TWO)).record
    case = SimpleNamespace(settings=SETTINGS, fast_hz=20.0, running=protocol(*TWO).conditions)
    for name, refused in (("alpha", True), ("temples", False)):  # the second only guards
        suspect = BlockMuscle(block=4, condition=name, finding=MuscleFinding(verdict="suspect"))
        found = MuscleAccount(upper_to_hz=60, directions=1, blocks=(suspect,))
        judged = no_advice(case, record.model_copy(update={"muscle": found}))
        assert ("muscle" in judged) == refused


@pytest.mark.parametrize(
    ("band", "direction", "verdict", "refused"),
    [
        ((14, 26), "above", "cant-tell", True),  # reaches above 20 Hz
        ((8, 13), "above", "cant-tell", False),
        ((14, 26), "above", "no-sign-found", False),
        ((22, 30), "below", "cant-tell", False),  # a guard stays as it is
    ],
)
def test_fast_conditions_that_may_be_muscle_give_no_advice(band, direction, verdict, refused):
    from types import SimpleNamespace

    from aftersit.insight.account import no_advice
    from aftersit.record_muscle import BlockMuscle, MuscleAccount, MuscleFinding

    rules = protocol(condition("fast", band=band, direction=direction))
    record = run(sitting(), rules).record
    case = SimpleNamespace(settings=SETTINGS, fast_hz=20.0, running=rules.conditions)
    of = BlockMuscle(block=4, condition="fast", finding=MuscleFinding(verdict=verdict))
    found = MuscleAccount(upper_to_hz=None, directions=0, blocks=(of,))
    judged = no_advice(case, record.model_copy(update={"muscle": found}))
    assert ("muscle-cant-tell" in judged) == refused


def test_few_electrodes_give_no_advice():
    strict = SETTINGS.model_copy(update={"few_electrodes": 6})
    record = run(sitting(found=quality()), protocol(*TWO), strict).record
    assert "few-electrodes" in record.insight.advice.refused
