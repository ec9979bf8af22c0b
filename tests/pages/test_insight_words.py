"""What the report says of chance, advice, lost reward and the room's log."""

import dataclasses

import pytest
import sample_insight
import samples

from aftersit.findings import WhatIfBoth
from aftersit.pages import format as fmt
from aftersit.pages import tables_insight as tables
from aftersit.pages.answers import answer_all, protocol_answers
from aftersit.pages.answers_insight import by_chance, next_time
from aftersit.pages.clinician import Clinician
from aftersit.sheet import Unpleasant


def plain(text: str) -> str:
    return text.replace(fmt.SPACE, " ").replace(fmt.MINUS, "-")


def answers(of) -> dict[str, str]:
    return {
        a.question: plain(" ".join((a.lead, *a.details)))
        for group in answer_all(of)
        for a in group.answers
    }


def with_insight(**changes):
    inputs = samples.scored()
    [replay] = inputs.replays
    insight = replay.record.insight.model_copy(update=changes)
    record = replay.record.model_copy(update={"insight": insight})
    return dataclasses.replace(inputs, replays=(dataclasses.replace(replay, record=record),))


def test_more_than_chance_is_held_against_the_harder_of_both():
    said = answers(samples.scored())["Was it more than chance?"]
    assert said.startswith(
        "The conditions met more than by chance: together 38 % of the time, against 22 % if they "
        "were unrelated, 27 % by leakage alone."
    )
    assert "the same thresholds would have rewarded 17 %" in said
    chance = sample_insight.chance(3)
    leaking = chance.model_copy(update={"only_leakage": sample_insight.expected(0.36, 0.31)})
    assert by_chance(leaking)[1].startswith("No sign that the conditions met more than by chance")


def test_a_single_condition_is_held_against_the_baseline():
    alone = sample_insight.chance(1)
    assert plain(by_chance(alone)[1]) == (
        "In target 34 %; the same thresholds over the baseline give 17 %."
    )
    assert by_chance(alone.model_copy(update={"baseline": None}))[1].startswith("This can't be")


def test_advice_says_that_no_target_is_correct_and_when_it_is_unsteady():
    said = answers(samples.scored())["What could be set next time?"]
    assert "a common practice and no correct value: insula-gamma -2.0 dB" in said
    assert "would have given 61 % in this sitting" in said
    assert "Held back to the largest step that is advised: insula-gamma." in said
    assert "thresholds of one half give 55 % and 83 % in the other" in said


def test_nothing_is_advised_after_an_unpleasant_experience():
    told = samples.scored().sheet.model_copy(update={"unpleasant": (Unpleasant.UNREALITY,)})
    inputs = samples.scored(sheet=told)
    said = answers(inputs)["What could be set next time?"]
    assert said == "No advice: something unpleasant was coded. Talk first."
    html = Clinician(inputs, ()).html()
    assert "Thresholds that would have given the target rate" not in html
    assert (
        "Thresholds that would have given the target rate" in Clinician(samples.scored(), ()).html()
    )


@pytest.mark.parametrize(
    ("codes", "words"),
    [
        (("drowsy",), "No advice: much of the practice shows signs that often go with drowsiness."),
        (
            ("few-electrodes", "reward-mostly-removed"),
            "No advice: few electrodes served and most of the uncleaned reward went with cleaning.",
        ),
    ],
)
def test_no_advice_says_why(codes, words):
    advice = sample_insight.advice([]).model_copy(update={"refused": codes})
    assert next_time(advice, False)[1] == words


def test_lost_reward_is_named_by_what_took_it():
    said = answers(samples.scored())["When was the client in the target state?"]
    assert (
        "Of the uncleaned reward 1 min 4 s went: 52 s with muscle and 11 s with bad spans." in said
    )


def test_the_rooms_log_is_told_only_where_there_is_one():
    question = "Does it agree with what the room logged?"
    assert question not in answers(samples.scored())
    logged = with_insight(agreement=(sample_insight.agreement(),))
    assert answers(logged)[question] == (
        "Uncleaned replay: 37 % of known time rewarded, 41 % logged; kappa 0.55, 0.71 with the "
        "log 0.8 s later; 3 logged bouts without a replayed one, 6 replayed bouts without a "
        "logged one."
    )
    assert plain(" ".join(tables.room(logged.replays[0])[0])) == (
        "uncleaned 37 % 41 % 0.55 0.8 s 0.71 3 of 29 6 of 33"
    )


def test_tables_print_what_the_record_has():
    [replay] = samples.scored().replays
    assert [row[0] for row in tables.by_chance(replay)] == [
        "as it was",
        "if unrelated",
        "by leakage alone",
        "in the baseline",
    ]
    assert plain(tables.what_if(replay)[0][1]) == "66 %"
    assert plain(tables.advised(replay)[0][1]) == "-2.0 dB, held back"
    assert plain(tables.survival(replay)[0][2]) == "55 to 86 %"
    assert plain(tables.lost(replay)[0][1]) == "52 s"


OBSTACLE = "What kept the reward away?"


def test_what_was_higher_while_the_reward_stayed_off_is_no_cause():
    inputs = samples.scored()
    said = answers(inputs)[OBSTACLE]
    assert (
        "Of 337 other pairs of region and band, 3 were higher while the reward stayed off: 2 in "
        "theta (4–8 Hz) and 1 in gamma (30–45 Hz). Conditions listen to gamma: there leakage alone "
        "makes such differences. Seen together, not a cause;"
    ) in said
    rows = tables.reward_off(inputs.replays[0])
    assert [plain(row[2]) for row in rows] == ["+1.1 dB", "+0.9 dB", "+1.7 dB"]
    assert [row[5] for row in rows] == [fmt.NONE, fmt.NONE, "insula-gamma"]
    html = Clinician(inputs, ()).html()
    assert "What was higher while the reward stayed off: unrewarded less rewarded time" in html
    assert "the reward stayed off can&#39;t be told" not in html


def test_no_sign_of_anything_higher_is_not_none():
    off = sample_insight.reward_off(["one"]).model_copy(update={"found": ()})
    inputs = with_insight(reward_off=off)
    assert "none was higher while the reward stayed off, beyond" in answers(inputs)[OBSTACLE]
    assert "none found is not none" in Clinician(inputs, ()).html()
    unknown = with_insight(reward_off=None)
    assert "stayed off" not in answers(unknown)[OBSTACLE]
    assert "too little time with or without reward is known" in Clinician(unknown, ()).html()


def test_a_long_list_of_what_was_higher_is_cut():
    off = sample_insight.reward_off(["one"])
    off = off.model_copy(update={"found": off.found[1:2] * 15})
    rows = tables.reward_off(with_insight(reward_off=off).replays[0])
    assert (len(rows), rows[-1][0]) == (13, "and 3 more")


def test_two_thresholds_at_once_stand_in_a_table():
    moves = (-4.0, -1.0, 0.0, 2.0)
    rates = tuple(tuple(0.9 - 0.1 * i - 0.03 * j for j in range(4)) for i in range(4))
    both = WhatIfBoth(conditions=("one", "two"), stricter_db=moves, reward_share=rates)
    heads, rows = tables.what_if_both(with_insight(what_if_both=both).replays[0])
    assert [plain(h) for h in heads] == ["Thresholds", "two -1.0 dB", "two 0.0 dB", "two +2.0 dB"]
    assert [plain(cell) for cell in rows[2]] == ["one +2.0 dB", "57 %", "54 %", "51 %"]
    assert tables.what_if_both(samples.scored().replays[0]) == ([], [])


def test_a_threshold_that_sets_itself_is_said_to_be_left_out():
    inputs = samples.scored()
    [replay] = inputs.replays
    assert tables.not_moved(replay) == ""
    first, *others = replay.record.conditions
    own = first.model_copy(update={"rule": "adaptive", "rule_value": 0.7})
    record = replay.record.model_copy(update={"conditions": (own, *others)})
    replay = dataclasses.replace(replay, record=record)
    said = tables.not_moved(replay)
    assert said.startswith(f"Left out: {own.name}. A threshold that sets itself takes")
    own = own.model_copy(update={"speed_db_per_min": 1.5, "start_rule": "absolute"})
    record = record.model_copy(
        update={"conditions": (own.model_copy(update={"start_value": 6.0}), *others)}
    )
    of = dataclasses.replace(inputs, replays=(dataclasses.replace(replay, record=record),))
    assert said in Clinician(of, ()).html()


def test_advice_without_an_interval_says_so():
    [first, *others] = sample_insight.advice(["one", "two"]).thresholds
    short = first.model_copy(update={"low_db": None, "high_db": None})
    advice = sample_insight.advice([]).model_copy(update={"thresholds": (short, *others)})
    details = next_time(advice, False)[2]
    assert "How sure it is can't be told, the time was too short: one." in details


def test_a_condition_that_a_scored_protocol_did_without_is_named():
    inputs = samples.scored()
    [replay] = inputs.replays
    first, *others = replay.record.conditions
    refused = first.model_copy(update={"refused": "electrode-missing"})
    record = replay.record.model_copy(update={"conditions": (refused, *others)})
    [missing, *_] = protocol_answers(dataclasses.replace(replay, record=record), False)
    assert missing.lead == (
        f"No: {first.name} can't be measured here. The others are scored without."
    )
    assert "an electrode of the condition did not serve" in missing.details[0]
