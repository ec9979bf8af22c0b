import numpy as np
import pytest
from cases import SETTINGS, TWO, condition, protocol, sitting
from cases import replay as run

from aftersit.insight.playback import Playback
from aftersit.insight.whatif import steps_db, what_if, what_if_both


@pytest.fixture(scope="module")
def insight():
    return run(sitting(), protocol(*TWO)).record.insight


def moved(name, db):
    """The protocol with one threshold stricter by so many decibels."""
    changed = []
    for c in TWO:
        rule = dict(c)
        if c["name"] == name:
            way = 1 if c["direction"] == "above" else -1
            rule["threshold"] = {"db_over_baseline": c["threshold"]["db_over_baseline"] + way * db}
        changed.append(rule)
    return protocol(*changed)


@pytest.mark.parametrize("name", ["alpha", "temples"])
@pytest.mark.parametrize("db", [-2.5, 0.0, 1.5])
def test_a_rate_is_what_a_replay_with_that_threshold_gives(insight, name, db):
    told = next(w for w in insight.what_if if w.condition == name)
    rate = told.reward_share[told.stricter_db.index(db)]
    again = run(sitting(), moved(name, db)).record.cleaned
    assert rate == pytest.approx(again.in_target_share, abs=0.004)  # edges of blocks


def test_rates_fall_as_thresholds_tighten(insight):
    for told in insight.what_if:
        assert (np.diff(told.reward_share) <= 0).all()
    rates = np.array(insight.what_if_both.reward_share)
    assert (np.diff(rates, axis=0) <= 0).all()
    assert (np.diff(rates, axis=1) <= 0).all()


def test_two_at_once_contain_each_alone(insight):
    both = insight.what_if_both
    centre = both.stricter_db.index(0.0)
    rates = np.array(both.reward_share)
    for told, line in zip(insight.what_if, (rates[:, centre], rates[centre]), strict=True):
        alone = [told.reward_share[told.stricter_db.index(db)] for db in both.stricter_db]
        np.testing.assert_allclose(line, alone)


def test_steps_hold_nothing_and_both_ends():
    assert steps_db(1.5, 0.5).tolist() == [-1.5, -1, -0.5, 0, 0.5, 1, 1.5]
    assert steps_db(1.7, 0.5).tolist() == steps_db(1.5, 0.5).tolist()


def three_of(*rules):
    """Conditions a, b and c, of which b is met most, and their decisions."""
    distance = np.random.default_rng(4).normal(size=(3, 400)) + np.array([[-0.5], [2], [0.1]])
    played = Playback(distance, ((0, 400),), ((0, 400),), np.arange(400), 0.125, 3, 0, 0)
    named = [condition(n, **rule) for n, rule in zip("abc", rules, strict=True)]
    return played, protocol(*named).conditions


def test_of_several_conditions_the_two_met_least_are_moved():
    played, conditions = three_of(*[{"absolute": 4.0}] * 3)
    assert what_if_both(played, conditions, SETTINGS.insight).conditions == ("a", "c")
    assert len(what_if(played, conditions, SETTINGS.insight)) == 3


def sets_itself(start_db, speed=30):
    start = {"db_over_baseline": start_db}
    return {"adaptive": {"target_rate": 0.7, "speed_db_per_min": speed, "start": start}}


def test_a_threshold_that_sets_itself_is_not_moved():
    played, conditions = three_of(sets_itself(1.0), {"absolute": 4.0}, {"absolute": 4.0})
    assert [w.condition for w in what_if(played, conditions, SETTINGS.insight)] == ["b", "c"]
    assert what_if_both(played, conditions, SETTINGS.insight).conditions == ("b", "c")
    played, conditions = three_of(sets_itself(1.0), {"absolute": 4.0}, sets_itself(1.0))
    assert what_if_both(played, conditions, SETTINGS.insight) is None


def own(start_db):
    return condition("own", {"electrodes": ["Cz", "O2"]}, (14, 28), **sets_itself(start_db))


def test_replays_that_start_elsewhere_are_not_what_a_shifted_path_would_tell():
    found = {db: run(sitting(), protocol(own(db))) for db in (-2.0, 1.0, 4.0)}
    as_it_was = found[1.0].record.cleaned.in_target_share
    table = found[1.0].timelines["cleaned"]
    known = table["state"].isin(["reward", "no-reward"])
    distance = 10 * np.log10(table["own_value"] / table["own_threshold"])[known]
    for moved_db in (-3.0, 3.0):
        again = found[1.0 + moved_db].record.cleaned.in_target_share
        assert abs(again - as_it_was) < 0.15
        assert abs((distance > moved_db).mean() - again) > 0.2
    assert found[1.0].record.insight.what_if == ()


def test_beside_a_threshold_that_sets_itself_a_fixed_one_is_moved_as_in_a_replay():
    def both(db):
        return run(sitting(), protocol(condition("alpha", db_over_baseline=db), own(1.0))).record

    told = both(-0.5).insight
    [alone] = told.what_if
    assert (alone.condition, told.what_if_both) == ("alpha", None)
    rate = alone.reward_share[alone.stricter_db.index(1.5)]
    assert rate == pytest.approx(both(1.0).cleaned.in_target_share, abs=0.004)


def test_one_condition_has_no_second():
    found = run(sitting(), protocol(condition(absolute=4.0))).record.insight
    assert found.what_if_both is None
