"""why.json has codes only; why.txt says what, where, what to do and how to send again."""

import json

from aftersit.intake.problems import Problem
from aftersit.intake.reasons import why_json, why_text

PROBLEMS = (
    Problem("sheet", "sitting.yaml: blocks.2.kind", "found 'practise'", "correct this line"),
    Problem("sheet", "sitting.yaml: Erika M", "unknown key", "correct this line"),
    Problem("too-short", "recording", "41.0 s of signal", "check the recording"),
)


def test_json_holds_codes_and_known_places_only():
    assert json.loads(why_json(PROBLEMS)) == {
        "schema_version": "1",
        "reasons": [
            {"code": "sheet", "place": "sitting.yaml: blocks.2.kind"},
            {"code": "sheet", "place": "sitting.yaml"},
            {"code": "too-short", "place": "recording"},
        ],
    }


def test_text_says_everything_a_front_desk_needs():
    text = why_text("monday 3", PROBLEMS)
    assert "3 things must be put right" in text
    assert "Where: recording\n   What:  41.0 s of signal\n   To do: check the recording" in text
    assert "scripts/aftersit retry 'monday 3' --clinic FOLDER" in text
