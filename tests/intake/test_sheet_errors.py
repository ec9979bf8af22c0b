"""Errors of the sheet speak to the user, and never repeat codes or notes."""

import pytest

from aftersit.errors import InvalidFileError
from aftersit.sheet import LiveThreshold, Sheet
from small_uploads import SHEET

PRACTICE = {"kind": "practice", "start": "0:20", "end": "1:00"}


def lines(**changes) -> list[str]:
    with pytest.raises(InvalidFileError) as caught:
        Sheet.checked({**SHEET, **changes}, "sitting.yaml")
    return caught.value.problems


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"eyes": "shut"}, "eyes: found 'shut'; allowed: open, closed"),
        (
            {"blocks": [PRACTICE, {**PRACTICE, "kind": "practise"}]},
            "blocks.2.kind: found 'practise'; allowed: baseline, practice, break, rest",
        ),
        (
            {"blocks": [{**PRACTICE, "eye": "open"}]},
            "blocks.1.eye: unknown key; did you mean 'eyes'?; allowed: end, eyes, instruction, "
            "kind, live_thresholds, protocol, remark, start",
        ),
        (
            {"ratings": {"befor": {}}},
            "ratings.befor: unknown key; did you mean 'before'?; allowed: after, before",
        ),
        ({"blocks": 7}, "blocks: found 7; allowed: from-annotations, or a list of blocks"),
        ({"blocks": []}, "blocks: at least one block is needed"),
        (
            {"blocks": [PRACTICE, {**PRACTICE, "start": "0:50", "end": "1:10"}]},
            "blocks: blocks 1 and 2 overlap or are out of order: 00:20-01:00 and 00:50-01:10",
        ),
        (
            {"blocks": [{**PRACTICE, "start": "0:75"}]},
            "blocks.1.start: found '0:75'; a time is written mm:ss, h:mm:ss or as a number of "
            "seconds",
        ),
        ({"date": "14.3.2026"}, "date: found '14.3.2026'; a date is written YYYY-MM-DD"),
        ({"client": 12}, "client: text is needed; put a number in quotes to make it text"),
        ({"mains_hz": 55}, "mains_hz: found 55; allowed: 50, 60"),
        ({"age": "4,5"}, "age: found '4,5'; in a number write a point, not a comma: 4.5"),
        ({"age": "old"}, "age: found 'old'; a whole number is needed"),
        ({"age": 41.5}, "age: found 41.5; a whole number is needed"),
        ({"ratings": 7}, "ratings: found 7; a group of `key: value` lines is needed"),
        ({"unpleasant": "pain"}, "unpleasant: found 'pain'; a list is needed; write [pain]"),
        ({"not_for_research": "maybe"}, "not_for_research: found 'maybe'; write true or false"),
        ({"blocks": ["rest"]}, "blocks.1: found 'rest'; a group of `key: value` lines is needed"),
    ],
)
def test_error_says_place_value_and_what_is_allowed(changes, line):
    assert lines(**changes) == [line]


def test_a_name_in_place_of_a_code_is_not_repeated():
    (line,) = lines(client="Erika Mustermann")
    assert line == "client: allowed: 2 to 16 letters (without accents) and digits"


@pytest.mark.parametrize("key", ["notes", "message", "instruction"])
def test_free_text_is_not_repeated(key):
    (line,) = lines(**{key: "private\x07words"})
    assert "private" not in line
    assert line.startswith(f"{key}: ")


@pytest.mark.parametrize(
    ("thresholds", "line"),
    [
        ([{"condition": "private " * 11, "value": 4.2}], ".1.condition: string should have at"),
        ([{"condition": ["private"], "value": 4.2}], ".1.condition: text is needed"),
        ([{"condition": "x", "value": 4.2, "unit": "private " * 6}], ".1.unit: string should have"),
        ([{"condition": "x", "value": "private"}], ".1.value: "),
        ([{"condition": "x", "value": "70,7"}], ".1.value: a number is needed"),
        (["private words"], ".1: a group of `key: value` lines is needed"),
        ("private words", ": "),
    ],
)
def test_words_of_a_live_threshold_are_not_repeated(thresholds, line):
    (found,) = lines(blocks=[{**PRACTICE, "live_thresholds": thresholds}])
    assert found.startswith(f"blocks.1.live_thresholds{line}")
    assert "private" not in found
    assert "found" not in found


@pytest.mark.parametrize("key", ["condition", "unit"])
def test_a_live_threshold_alone_repeats_no_words_either(key):
    with pytest.raises(InvalidFileError, match=f"{key}: ") as caught:
        LiveThreshold.checked({"condition": "x", "value": 4.2, key: 61972}, "threshold")
    assert "61972" not in str(caught.value)


def test_an_error_of_the_whole_sheet_repeats_no_neighbour():
    (line,) = lines(blocks=[PRACTICE, PRACTICE], notes="private words")
    assert "K07" not in line
    assert "private" not in line


def test_long_values_are_counted_and_not_repeated():
    (line,) = lines(practice="she told me that " * 5)
    assert line.startswith("practice: found a text of 85 characters; allowed: focused-attention,")
