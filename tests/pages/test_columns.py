"""Widths of columns in print; the room is that of A4 between the margins of `page.css`."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aftersit.pages import columns as module
from aftersit.pages.columns import columns
from aftersit.pages.fonts import text_width

CELL = st.text("ab–-7 ", min_size=1, max_size=40)
ROWS = st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=5)


def needed(text, face="Regular"):
    return text_width(text, 8.55, face)


def test_the_room_is_what_a_sheet_leaves():
    """A4 is 210 mm wide (ISO 216); an inch is 25.4 mm and 72 points."""
    assert pytest.approx((210 - 2 * 16) / 25.4 * 72, abs=0.2) == module.ROOM


def test_short_cells_stand_on_one_line():
    heads, rows = ["Block", "Share (95 %)"], [["2", "35 % (26 to 47 %)"], ["14", "7 %"]]
    first, second = columns(heads, rows)
    assert first >= needed("Block", "Semibold") + 8.5
    assert second >= needed("35 % (26 to 47 %)") + 8.5
    assert first + second == pytest.approx(190, abs=0.2)


@given(ROWS)
def test_no_word_is_broken_and_no_table_is_wider_than_the_sheet(rows):
    widths = columns(["First", "Second one", "Third"], rows)
    assert sum(widths) <= module.ROOM + 0.3
    for n, width in enumerate(widths):
        words = [w for row in rows for w in row[n].replace("–", "– ").replace("-", "- ").split()]
        assert all(needed(w) <= width for w in words)


def test_words_without_room_are_left_to_the_printer():
    assert columns(["A", "B"], [["w" * 70, "m" * 70]]) == []


def test_a_long_cell_gets_what_the_others_leave():
    note = "a remark of very many words " * 9
    short, long = columns(["Block", "Remark"], [["2", note]])
    assert short + long == pytest.approx(module.ROOM, abs=0.2)
    assert short < 60
