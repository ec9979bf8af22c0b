"""What the report says of muscle: signs with numbers, never more certain than the recording."""

import re
from dataclasses import replace

import samples
from handout_cases import tense

from aftersit.pages import tables
from aftersit.pages.answers_muscle import muscle_details, muscle_lead, verdict_words
from aftersit.record_muscle import MuscleAccount


def given(record):
    inputs = samples.scored()
    replays = tuple(replace(r, record=record(r.record)) for r in inputs.replays)
    return replace(inputs, replays=replays)


def test_signs_are_told_with_their_numbers():
    lead = muscle_lead(given(tense))
    assert lead.startswith("Muscle is suspect in block 2: inner, about 62\xa0% of the measure is")
    assert "over that of a scalp without muscle" in lead


def test_no_sign_is_not_none():
    lead = muscle_lead(given(lambda r: tense(r, "no-sign-found")))
    assert lead == "No muscle sign was found in the practice; that is not the same as none."


def test_a_recording_that_ends_below_50_hz_says_why_it_cant_tell():
    def unheard(record):
        found = tense(record, "cant-tell").muscle
        return record.model_copy(
            update={"muscle": MuscleAccount(upper_to_hz=None, directions=0, blocks=found.blocks)}
        )

    assert re.search(
        r"can't tell for block 2: nothing is recorded above .*Hz, where muscle",
        muscle_lead(given(unheard)),
    )


def test_the_evidence_stands_beside_the_published_slope():
    (line, care) = muscle_details(given(tense))
    assert "slope \N{MINUS SIGN}0.7" in line or "slope -0.7" in line
    assert "−2.3 to −4.6" in line  # Whitham et al. 2007, digitised traces
    assert "not the same as none" in care


def test_blocks_carry_the_verdict():
    inputs = given(tense)
    record = inputs.replays[0].record
    assert verdict_words(record, 2) == "suspect"
    assert verdict_words(record, 3) is None
    assert [b["muscle"] for b in tables.blocks(inputs)][1] == "suspect"


def test_what_asks_for_less_is_told_but_not_suspected_of_being_earned():
    def guarded(record):
        (tight,) = tense(record).muscle.blocks
        calm = tense(record, "no-sign-found").muscle.blocks[0]
        blocks = (calm, tight.model_copy(update={"condition": "temples", "earns": False}))
        return record.model_copy(
            update={"muscle": MuscleAccount(upper_to_hz=115.0, directions=3, blocks=blocks)}
        )

    inputs = given(guarded)
    assert muscle_lead(inputs) == (
        "No muscle sign was found in what could earn the reward, unlike in temples, which asks "
        "for less; that is not the same as none."
    )
    assert "so muscle can keep its reward away but not earn it" in muscle_details(inputs)[1]
    assert verdict_words(inputs.replays[0].record, 2) == "no sign found"
