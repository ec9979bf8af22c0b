"""Prefilter fields: the EDF+ specification's form (item 11), and forms seen in files."""

import math

import pytest

from aftersit.intake.prefilter import Filters, parse_prefilter


@pytest.mark.parametrize(
    ("text", "filters"),
    [
        ("HP:0.1Hz LP:75Hz N:50Hz", Filters(0.1, 75.0, (50.0,))),
        ("HP:0.500000Hz LP:45.000000Hz RF:50Hz", Filters(0.5, 45.0, (50.0,))),
        ("HP:0.5Hz LP:45Hz N:50Hz N:100Hz", Filters(0.5, 45.0, (50.0, 100.0))),
        ("HP: DC; LP: 113 Hz", Filters(None, 113.0)),
        ("HP:0,3Hz LP:1.2kHz", Filters(0.3, 1200.0)),
        ("BP: 0.5-70 Hz", Filters(0.5, 70.0)),
        ("LP:70Hz HP:0Hz", Filters(None, 70.0)),
        ("BCI2000", Filters()),
        ("", Filters()),
        ("HELP:3Hz", Filters()),
    ],
)
def test_filters_are_read(text, filters):
    assert parse_prefilter(text) == filters


@pytest.mark.parametrize("text", ["TC:0.3s", "HP:0.3s", "TC:300ms"])
def test_time_constant_is_a_first_order_corner(text):
    """Closed form: the corner of a first-order filter is 1 / (2 pi tau)."""
    assert parse_prefilter(text).highpass_hz == pytest.approx(1 / (2 * math.pi * 0.3))
