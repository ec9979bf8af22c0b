import pytest
from sample_given import protocol, quality
from sample_records import condition_results, record

from aftersit.pages.rules import band_words, combination_words, threshold_words


def changed(**changes):
    return condition_results(protocol(), {})[0].model_copy(update=changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rule": "absolute", "rule_value": 6.5, "unit": "uV^2"}, "6.5 µV²"),
        ({"rule": "db-over-baseline", "rule_value": -2.0}, "\N{MINUS SIGN}2.0 dB over baseline"),
        ({"rule": "percentile-of-baseline", "rule_value": 70.0}, "percentile 70 of the baseline"),
        (
            {
                "rule": "adaptive",
                "rule_value": 0.65,
                "speed_db_per_min": 1.5,
                "start_rule": "db-over-baseline",
                "start_value": 2.0,
            },
            "a threshold that moves until it is met 65 % of the time "
            "(at 1.5 dB a minute, from +2.0 dB over baseline)",
        ),
    ],
)
def test_each_rule_has_its_words(changes, words):
    assert threshold_words(changed(**changes)).replace("\N{NO-BREAK SPACE}", " ") == words


def test_what_is_not_plain_power_is_said():
    both = changed(measure="selective", relative_to_hz=(4, 45))
    assert band_words(both).replace("\N{NO-BREAK SPACE}", " ") == (
        "35–45 Hz, selective measure, relative to 4–45 Hz"
    )
    assert "," not in band_words(changed())


@pytest.mark.parametrize(
    ("needed", "words"),
    [
        (None, "all must be met at once"),
        (3, "all must be met at once"),
        (2, "at least 2 must be met at once"),
        (1, "any one is enough"),
    ],
)
def test_how_conditions_combine_is_said(needed, words):
    assert (
        combination_words(
            record(
                protocol(), quality(), needed=needed, conditions=condition_results(protocol(), {})
            )
        )
        == words
    )
