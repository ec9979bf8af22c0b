"""A drawing's words in the printed page, against the typeface's own measures."""

import io

import pikepdf
import pytest

from aftersit.pages.figures import drawing
from aftersit.pages.fonts import text_width
from aftersit.pages.pdf import html_to_pdf
from aftersit.pages.style import TEMPLATES, page_css

NO_FOOT = "@page { @bottom-right { content: none; } }"


def moves(words: str) -> list[float]:
    """Of each operator that shows text in a drawing of words, how far it moves letters.

    In thousandths of their size, to the left where positive (ISO 32000-1, 9.4.3).
    """
    figure = drawing("x", "Title", "Facts.", 90, lambda canvas: canvas.words(7, 30, words))
    page = (
        f'<html lang="en"><title>x</title><style>{page_css("print")}{NO_FOOT}</style>'
        f"<main>{figure.element('print')}</main></html>"
    )
    with pikepdf.open(io.BytesIO(html_to_pdf(page, TEMPLATES))) as pdf:
        contents = pikepdf.parse_content_stream(pdf.pages[0])
        shown = [ops[0] for ops, operator in contents if str(operator) == "TJ"]
        return [sum(float(p) for p in ops if not isinstance(p, pikepdf.String)) for ops in shown]


def test_words_of_a_drawing_are_set_in_one_piece_and_kerned():
    """Kerning: 'AVAT' is narrower than its letters by themselves (the typeface's own table)."""
    kerned = text_width("AVAT", 100) - sum(text_width(letter, 100) for letter in "AVAT")
    (moved,) = moves("AVAT")
    assert kerned < -5
    assert -moved / 10 == pytest.approx(kerned, abs=0.3)


@pytest.mark.parametrize("words", ["", "one", "two words, and a ünicode – sign"])
def test_each_element_is_shown_once(words):
    assert len(moves(words)) == bool(words)
