"""Drawings: places of values, gaps, escaping, hatches; read back as SVG (XML)."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aftersit.pages.canvas import HATCHES, Canvas, points, rectangles
from aftersit.pages.panel import Panel, Scale, round_ticks, stacked

NUMBER = st.floats(-1e4, 1e4, allow_nan=False)


def read(canvas):
    return ElementTree.fromstring(f"<svg>{canvas.content}</svg>")


def places(path):
    return [tuple(map(float, p.split())) for p in re.findall(r"-?[\d.]+ -?[\d.]+", path.strip("z"))]


@given(st.lists(st.tuples(NUMBER, NUMBER), min_size=2, max_size=20))
def test_a_path_leads_through_its_points_to_a_hundredth(pairs):
    x, y = np.array(pairs).T
    assert places(points(x, y)) == [pytest.approx(p, abs=0.0051) for p in pairs]


def test_a_path_begins_anew_after_a_gap():
    y = np.array([np.nan, 2.5, 3.25, np.nan, np.nan, 7.0, 4.5])
    path = points(np.arange(7) * 1.5, y)
    assert re.findall(r"[ML]", path) == ["M", "L", "M", "L"]
    assert places(path) == [(1.5, 2.5), (3, 3.25), (7.5, 7), (9, 4.5)]


def test_bars_are_one_path():
    path = rectangles([2.5, 30.125], 4, [7, 0.5], 11)
    assert path == "M2.5 4h7v11h-7zM30.12 4h0.5v11h-0.5z"


@given(st.floats(-50, 49), st.floats(0.5, 80), st.booleans())
def test_a_scale_is_the_straight_line_between_its_ends(low, span, log):
    """Closed form: equal steps of the value, or of its logarithm, are equal steps on paper."""
    low = abs(low) + 0.1 if log else low
    scale = Scale(low, low + span, 33.0, 210.0, log)
    inside = np.geomspace(low, low + span, 5) if log else np.linspace(low, low + span, 5)
    assert scale(inside) == pytest.approx(np.linspace(33, 210, 5), abs=1e-6)
    assert scale(low + 3 * span) == pytest.approx(210)


@given(st.floats(-1e3, 1e3), st.floats(0.01, 1e3), st.integers(3, 9))
def test_ticks_are_round_lie_inside_and_are_not_too_many(low, span, most):
    ticks = round_ticks(low, low + span, most)
    assert 1 <= len(ticks) <= most + 1
    assert low - span * 1e-6 <= min(ticks)
    assert max(ticks) <= low + span * (1 + 1e-6)
    if len(ticks) > 1:
        step = ticks[1] - ticks[0]
        mantissa = step / 10 ** np.floor(np.log10(step) + 1e-9)
        assert min(abs(mantissa - m) for m in (1, 2, 5, 10)) < 1e-3


def test_words_can_not_break_out():
    canvas = Canvas("timeline1", 90)
    canvas.words(12, 30, "</text><script>leak()</script> & \"'")
    (text,) = read(canvas).iter("text")
    assert text.text == "</text><script>leak()</script> & \"'"
    assert len(list(text)) == 0


def test_a_hatch_is_defined_once_and_every_one_of_them_looks_different():
    canvas = Canvas("obstacles1", 90)
    panel = Panel(canvas, (10, 5, 610, 80), (0, 60), (0, 6))
    for n, hatch in enumerate((*HATCHES, *HATCHES)):
        panel.spans([(n, n + 0.5)], (2, 3), fill="paper", stroke="ink", hatch=hatch)
    drawn = read(canvas)
    patterns = list(drawn.iter("pattern"))
    assert len(patterns) == len(HATCHES) == len({p.find("path").get("d") for p in patterns})
    used = {
        re.search(r"#([^)]+)", p.get("fill"))[1]
        for p in drawn.iter("path")
        if "#obst" in p.get("fill", "")
    }
    assert used == {p.get("id") for p in patterns}
    assert all(p.get("id").startswith("obstacles1-") for p in patterns)


def test_an_area_over_a_base_goes_down_to_it_in_gaps():
    canvas = Canvas("x", 90)
    panel = Panel(canvas, (0, 0, 100, 50), (0, 4), (-10, 15))
    panel.filled(np.arange(5.0), np.array([5, np.nan, -7, 10, 2.5]), 0, "pale")
    (path,) = [p for p in read(canvas).iter("path") if p.get("d")]
    level = 30.0  # 0 lies 10 of 25 above the bottom at 50
    heights = [y for _, y in places(path.get("d"))]
    assert heights == [level, 20.0, level, level, 10.0, 25.0, level]


def test_panels_over_each_other_keep_their_gap():
    assert stacked([30, 12.5], 4, 7) == [(4, 34), (41, 53.5)]


def test_a_panel_without_spans_draws_nothing():
    canvas = Canvas("x", 90)
    Panel(canvas, (0, 0, 100, 50), (0, 4), (0, 2)).spans([], (0.5, 1.5), fill="ink")
    assert not list(read(canvas).iter("path"))
