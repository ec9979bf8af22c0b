"""What keeps a report from reading too much into its numbers: one rule for every page."""

import dataclasses

import handout_cases
import pytest
import sample_given
import samples

from aftersit.findings import Change
from aftersit.pages import tables
from aftersit.pages.answers import answer_all
from aftersit.pages.answers_change import is_borderline, is_clear
from aftersit.pages.cautious import far_apart, only_crossings
from aftersit.pages.format import SPACE
from aftersit.protocol import Protocol
from aftersit.record import Record

TARGET = "When was the client in the target state?"
OBSTACLE = "What kept the reward away?"
REACH = "Was a threshold out of reach?"
SOURCE = "Brain or muscle?"


@pytest.fixture(scope="module")
def inputs():
    return samples.scored()


def answers(of):
    return {a.question: a for group in answer_all(of) for a in group.answers}


def lead(of, question: str) -> str:
    return answers(of)[question].lead.replace(SPACE, " ")


def details(of, question: str) -> str:
    return " ".join(answers(of)[question].details).replace(SPACE, " ")


def with_record(inputs, record: Record, protocol: Protocol | None = None):
    replay = inputs.replays[0]
    used = dataclasses.replace(replay, record=record, protocol=protocol or replay.protocol)
    return dataclasses.replace(inputs, replays=(used,))


def changed(inputs, **changes):
    return with_record(inputs, inputs.record.model_copy(update=changes))


def test_reward_that_mostly_went_with_cleaning_is_muscle_first(inputs):
    text = lead(changed(inputs, removed_reward_share=0.95), SOURCE)
    assert text.startswith("Mostly muscle, by this recording: 95 % of the uncleaned reward went")
    assert "2 muscle components were removed" in text
    assert lead(inputs, SOURCE).startswith("Both: 2 muscle components")


def test_many_electrodes_above_the_yardstick_come_first(inputs):
    loud = inputs.spectra.assign(psd_uv2_per_hz=inputs.spectra["psd_uv2_per_hz"] + 2.5)
    found = dataclasses.replace(inputs, spectra=loud, quality=sample_given.quality(components=()))
    assert lead(found, SOURCE).startswith(
        "Muscle is likely to remain: 17 of 17 electrodes are far above muscle-free gamma. "
    )


def test_brief_crossings_are_no_reached_threshold(inputs):
    record = handout_cases.crossings()
    assert only_crossings(record)
    used = sample_given.protocol(**handout_cases.ONE_CONDITION)
    text = lead(with_record(inputs, record, used), REACH)
    assert text.startswith("Nearly: only brief crossings, none longer than 1.2 s; a signal")


@pytest.mark.parametrize(("share", "longest_s"), [(0.12, 1.25), (0.056, 2.25)])
def test_more_reward_or_longer_bouts_are_no_crossings(share, longest_s):
    """Moving means of 1 s, so up to 2 s: the rule's own limits."""
    record = handout_cases.crossings()
    update = {"in_target_share": share, "longest_bout_s": longest_s}
    cleaned = record.cleaned.model_copy(update=update)
    assert not only_crossings(record.model_copy(update={"cleaned": cleaned}))


def test_differing_eyes_stand_in_every_lead_that_rests_on_the_threshold(inputs):
    warned = with_record(inputs, handout_cases.cautioned("baseline-eyes-differ"))
    for question in (TARGET, OBSTACLE, REACH):
        assert "With care: eyes differed between baseline and practice" in lead(warned, question)
        assert "With care" not in lead(inputs, question)


def test_a_block_without_a_score_after_cleaning_is_told_apart_from_lost_reward(inputs):
    record = inputs.record
    [*others, last] = (b.index for b in record.cleaned.blocks if b.scored)
    blocks = [
        b.model_copy(update={"scored": False}) if b.index == last else b
        for b in record.cleaned.blocks
    ]
    cleaned = record.cleaned.model_copy(update={"blocks": tuple(blocks)})
    said = "is gone after cleaning (blocks not scored after it aside)."
    assert others
    assert said in details(changed(inputs, cleaned=cleaned), TARGET)
    assert said not in details(inputs, TARGET)


def test_a_net_gain_is_told_with_what_was_left_out(inputs):
    record = handout_cases.far_apart(2)
    assert far_apart(record)
    found = with_record(inputs, record)
    assert "The uncleaned signal gives 1 %: the room may have rewarded far less." in lead(
        found, TARGET
    )
    assert "Cleaning left out F8 (noisy) and P7 (flat), which" in details(found, TARGET)
    assert "is gone after cleaning, and more came in elsewhere." in details(found, TARGET)
    assert "the room may have" not in lead(inputs, TARGET)


def test_flicker_is_told_against_onset_and_smoothing(inputs):
    text = details(inputs, TARGET)
    timing = inputs.replays[0].protocol.timing
    least_s = timing.onset_s + timing.smoothing_s
    scored = [b for b in inputs.record.cleaned.blocks if b.scored]
    short = [str(b.index) for b in scored if b.median_bout_s <= least_s]
    named = f"block{'s' if len(short) > 1 else ''} {' and '.join(short)}"
    assert text.count("Most bouts of") == 1
    assert f"Most bouts of {named} are no longer than" in text
    assert "no longer than onset and smoothing together (1.5 s)" in text
    slow = sample_given.protocol(timing={"smoothing_s": 0.125, "onset_s": 0.125})
    assert "flicker" not in details(with_record(inputs, inputs.record, slow), TARGET)


def test_drowsiness_is_told_where_theta_or_alpha_counts(inputs):
    told = "Theta and alpha also change with drowsiness"
    assert told in details(inputs, TARGET)
    fast = [c.model_copy(update={"band_hz": (13.0, 45.0)}) for c in inputs.record.conditions]
    assert told not in details(changed(inputs, conditions=tuple(fast)), TARGET)


def test_a_recording_that_is_not_scored_does_not_boast_of_its_seconds():
    found = dataclasses.replace(
        samples.not_scored(),
        quality=sample_given.quality(scorable=False, unusable=("too-few-electrodes",)),
    )
    text = lead(found, "Was the recording good enough?")
    assert text == "No: 17 of 19 electrodes served, too few to score."
    assert "Seen from the direction" not in details(found, SOURCE)
    assert "Components removed" not in details(found, SOURCE)


def test_one_cause_of_all_refusals_is_the_reason(inputs):
    record = handout_cases.refused("no-baseline", "all-conditions-refused")
    conditions = [c.model_copy(update={"refused": "no-baseline"}) for c in record.conditions]
    found = with_record(inputs, record.model_copy(update={"conditions": tuple(conditions)}))
    text = lead(found, TARGET)
    assert text.startswith("Not scored, because the threshold counts from a baseline and the")
    assert details(found, TARGET).startswith("Record a baseline next time, with the eyes as in")


@pytest.mark.parametrize(("high_db", "clear"), [(-0.04, True), (-0.6, False)])
def test_a_change_that_ends_at_zero_or_would_not_hold_among_many_is_borderline(
    inputs, high_db, clear
):
    change = Change(
        condition="a",
        before_db=1.0,
        after_db=2.0,
        change_db=-1.7,
        low_db=-3.3,
        high_db=high_db,
        clear=clear,
    )
    assert not is_clear(change)
    assert is_borderline(change)
    (found,) = inputs.record.breaks
    touched = changed(inputs, breaks=(found.model_copy(update={"changes": (change,)}),))
    question = "What changed after each break?"
    assert lead(touched, question).startswith("No clear change: what differs could come by chance")
    assert "a: −1.7 dB" in details(touched, question)
    assert "; borderline." in details(touched, question)
    assert tables.changes(touched.replays[0])[0][-1] == "borderline"


def test_obstacles_add_up(inputs):
    """With the time in which all were met but the reward had not begun, they are everything."""
    table = inputs.replays[0].cleaned
    off = table[table["state"] == "no-reward"]
    waiting = off[[f"{c.name}_met" for c in inputs.record.conditions]].all(axis=1).mean()
    assert waiting > 0.005
    assert f"All met, waiting for the onset: {waiting * 100:.0f} %." in details(inputs, OBSTACLE)
