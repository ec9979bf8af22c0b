"""What the report says of drowsy signs: with times, with care, never a state as a fact."""

import dataclasses
import re

import pytest
import sample_given
import samples
from sample_records import drowsiness

from aftersit import record as rec
from aftersit.pages import tables
from aftersit.pages.answers import answer_all
from aftersit.pages.digest import done
from aftersit.pages.figures_timeline import describe
from aftersit.pages.format import SPACE
from aftersit.pages.methods import write_methods
from aftersit.quality import DrowsySigns

QUESTION = "Was the client drifting towards sleep?"


def told(found: rec.Drowsiness, **changes):
    """The invented sitting with these signs."""
    base = samples.scored()
    replays = tuple(
        dataclasses.replace(r, record=r.record.model_copy(update={"drowsiness": found, **changes}))
        for r in base.replays
    )
    return dataclasses.replace(base, replays=replays)


def answer(inputs, question=QUESTION) -> tuple[str, str]:
    (found,) = [a for g in answer_all(inputs) for a in g.answers if a.question == question]
    return found.lead.replace(SPACE, " "), " ".join(found.details).replace(SPACE, " ")


def cant_tell(*reasons: str, blocks=(1, 2, 3, 4, 5)) -> rec.Drowsiness:
    found = drowsiness()
    changed = [
        b.model_copy(update={"verdict": "cant-tell", "reasons": reasons})
        if b.index in blocks
        else b
        for b in found.blocks
    ]
    return found.model_copy(update={"blocks": tuple(changed)})


def test_nothing_found_is_not_none():
    lead, details = answer(told(drowsiness()))
    assert lead == "No drowsy sign was found; that is not the same as none."
    assert details == ""


def test_suspicion_has_times_seconds_and_the_reward_inside():
    lead, details = answer(told(drowsiness({2: 44.0, 4: 38.0}, reward_share=0.234)))
    assert lead == (
        "Perhaps: 1 min 22 s in blocks 2 and 4 show signs that often go with drowsiness, and "
        "23 % of the reward time lies there."
    )
    assert "Suspected: 02:05–02:49 (alpha out and theta up); 07:20–07:58 (alpha out and" in details
    assert "Practice by itself can raise theta" in details
    assert "baseline" not in details


def test_without_reward_inside_nothing_is_said_of_it():
    assert "reward" not in answer(told(drowsiness({2: 44.0}, reward_share=0.0)))[0]


def test_a_drowsy_baseline_makes_thresholds_doubtful():
    assert "thresholds that count from it may be off" in answer(told(drowsiness({1: 30.0})))[1]


@pytest.mark.parametrize("code", rec.DrowsyReason.__args__)
def test_what_can_not_be_told_is_said_with_why_and_what_to_do(code):
    lead, details = answer(told(cant_tell(code)))
    assert lead == "This recording can't tell."
    assert re.match(
        r"Can't tell for blocks 1, 2, 3, 4 and 5: [^.]{20,}(\.\d[^.]*)*\. \w.+\.$", details
    )
    assert code not in details or "-" not in code


def test_blocks_that_can_be_told_are_named_beside_those_that_can_not():
    lead, details = answer(told(cant_tell("eyes-open", blocks=(2, 4))))
    assert lead == "No drowsy sign was found in blocks 1, 3 and 5; that is not the same as none."
    assert "Can't tell for blocks 2 and 4: with open eyes alpha is low anyway" in details


def test_what_the_rule_did_without_is_said_once():
    found = drowsiness()
    reasons = {"reasons": ("slow-waves-not-recorded",)}
    blocks = tuple(b.model_copy(update=reasons) for b in found.blocks)
    details = answer(told(found.model_copy(update={"blocks": blocks})))[1]
    assert details.count("Slow rolling of the eyes could not be looked for") == 1


def test_theta_and_alpha_conditions_carry_the_share():
    inputs = told(drowsiness({2: 44.0}, reward_share=0.234))
    details = answer(inputs, "When was the client in the target state?")[1]
    assert (
        "Theta and alpha also change with drowsiness: 23 % of the reward time lies in seconds "
        "with drowsy signs." in details
    )


def test_no_state_is_named_as_a_fact():
    for found in (drowsiness(), drowsiness({2: 44.0}, reward_share=0.3), cant_tell("no-alpha")):
        inputs = told(found)
        text = " ".join([*answer(inputs), *write_methods(inputs).paragraphs])
        assert not re.search(r"\b(was|is|were) (asleep|drowsy|sleeping|sleepy|awake)\b", text)
        assert not re.search(r"\bN1\b|stage 1|microsleep", text)


def test_table_and_picture_say_the_same():
    inputs = told(drowsiness({2: 44.0}))
    rows = [b["drowsy"].replace(SPACE, " ") for b in tables.blocks(inputs)]
    assert rows == ["no sign found", "suspect, 44 s", *["no sign found"] * 3]
    assert "Drowsy signs: 02:05–02:49." in describe(inputs, inputs.replays[0])
    unknown = describe(told(cant_tell("no-level", blocks=(3,))), inputs.replays[0])
    assert "Drowsy signs: no suspected span. Can't tell for block 3." in unknown


def test_methods_follow_settings_and_limits():
    inputs = samples.scored()
    assert "Drowsy signs were not looked for." in write_methods(inputs).paragraphs

    def paragraph(**signs):
        found = sample_given.quality(drowsy=DrowsySigns(**signs))
        text = write_methods(dataclasses.replace(inputs, quality=found)).paragraphs
        return " ".join(text).replace(SPACE, " ")

    rule = inputs.settings.replay.drowsy
    whole = paragraph(limits=())
    assert f"down by at least {rule.alpha_out_db:g} dB with theta (4–7 Hz" in whole
    assert f"medians over {rule.window_s:g} s" in whole
    assert "could not be used" not in whole
    part = paragraph(limits=("slow-waves-not-recorded",))
    assert "Part of it could not be used: the recording does not carry waves as slow" in part


def test_the_digest_marks_a_suspicion():
    sitting = "K07/03"
    for found, marked in ((drowsiness({4: 38.0}), True), (drowsiness(), False)):
        record = told(found).record
        assert ("drowsy-suspect" in done(sitting, "tue", [record], ()).codes) is marked
