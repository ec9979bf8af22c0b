"""What the report says of regions: both measures, pictures, evidence, two simulated places."""

import dataclasses

import numpy as np
import pytest
import sample_tables
import samples

from aftersit.pages import tables_regions as told
from aftersit.pages.figures_regions import RAISED_DB, brain_maps, simulated_rises, two_sides
from aftersit.pages.methods import write_methods


@pytest.fixture(scope="module")
def inputs():
    return samples.scored()


def plain(rows):
    """Rows with ordinary spaces and minus signs."""
    return [tuple(cell.replace("\xa0", " ").replace("\u2212", "-") for cell in r) for r in rows]


def test_both_measures_of_a_region_are_told(inputs):
    rows = plain(told.purity(inputs))
    assert rows[:2] == [
        ("right insula", "sLORETA", "5 %", "8 %", "87 %", "+2.5 dB", "+8.2 dB", "±0.2 dB"),
        ("right insula", "selective", "8 %", "8 %", "79 %", "+4.4 dB", "+9.0 dB", "±0.2 dB"),
    ]
    assert rows[2][5:] == ("—", "—", "—")


def test_neighbours_are_named(inputs):
    first = plain(told.also_hears(inputs))[0]
    assert first[:2] == ("right insula", "right superior temporal 11 %")


def test_evidence_says_whether_both_agree(inputs):
    baseline, last = plain(told.evidence(inputs))
    assert baseline[:4] == ("insula-gamma", "1", "—", "—")
    assert baseline[5:] == ("+0.4 dB", "1.21")
    assert last[1] == "4 (over 1; eyes differ)"
    assert last[2] == "+2.3 dB (+1.6 to +3.0 dB)"
    assert last[4] == "they disagree: nothing can be said of the region"


def test_power_stands_with_its_interval(inputs):
    """chi-squared on 93.5 degrees of freedom: factors 0.77 to 1.36 (scipy)."""
    heads, rows = told.band_power(inputs)
    rows = plain(rows)
    assert heads[0] == "1 baseline"
    insula = next(row for row in rows if row[0].startswith("right insula") and "alpha" in row[1])
    assert insula[2] == "5.17 (3.96–7.04)"
    _, parts = told.relative_power(inputs)
    assert plain(parts)[0][2] == "31 %"


def test_electrode_groups_have_their_members_mean(inputs):
    _, rows = told.band_power(inputs)
    rows = plain(rows)
    group = next(row for row in rows if row[0].startswith("electrodes T7 and T8"))
    assert group[2].startswith("3.41 (")


def test_a_group_is_known_as_well_as_its_least_known_electrode(inputs):
    """chi-squared on 30 degrees of freedom: factors 0.639 to 1.787 (scipy)."""
    table = inputs.bandpower.copy()
    poor = (table["place"] == "T8") & (table["block"] == 1)
    for name, value in sample_tables.known_power(4.9, 30).items():
        table.loc[poor, name] = value
    _, rows = told.band_power(dataclasses.replace(inputs, bandpower=table))
    group = next(row for row in plain(rows) if row[0].startswith("electrodes T7 and T8"))
    assert group[2] == "4.16 (2.65–7.42)"  # the mean of 3.41 and 4.9, and both factors


def test_brain_map_carries_its_facts(inputs):
    (brain,) = brain_maps(inputs)
    assert brain.title == "Where the sLORETA measure of the right insula comes from"
    assert plain([[brain.description]])[0][0].startswith(
        "From the region itself 5 %; from right superior temporal"
    )
    assert str(brain.element("print")) == str(brain.element("screen"))
    assert 'src="data:image/png;base64,iVBOR' in brain.element("screen")


@pytest.mark.parametrize("measure", ["sloreta", "selective"])
def test_simulated_rise_is_a_part_of_what_was_put_in(inputs, measure):
    """A part p of a measure that rises tenfold raises it by 10 log10(1 + 9 p)."""
    rises = simulated_rises(inputs.regions, "insula", measure)
    heard = inputs.regions.heard("insula-right", measure)
    own = 10 * np.log10(1 + 9 * heard.purity)
    other = 10 * np.log10(1 + 9 * heard.purity / 10 ** (heard.other_side_db / 10))
    assert rises["active: right alone"][1] == pytest.approx(own)
    assert rises["active: left alone"][1] == pytest.approx(other)
    assert own < rises["active: both sides"][1] < RAISED_DB


def test_figure_of_two_places_has_its_numbers_in_words(inputs):
    first = two_sides(inputs)[0]
    assert first.title == "Two simulated places: insula, left and right"
    assert "active: left alone: left measure +" in first.description
    assert two_sides(dataclasses.replace(inputs, regions=None)) == []


def test_methods_say_what_was_chosen(inputs):
    text = plain([write_methods(inputs).paragraphs])[0]
    text = " ".join(text)
    for words in (
        "hears 70 % of its area",
        "62 % of the way from inner skull to scalp, no thicker than 8 mm",
        "from 4 drawn heads with 12 placements each: brain over skull conductivity 15-80",
        "electrodes off by 5-10 mm",
        "A band [low, high) holds its lower edge",
        "each electrode adds 0.1 % of noise",
    ):
        assert words in text
