"""The typeface that pages carry: what is in it, and that it is cut once."""

import io

import pytest
from fontTools.ttLib import TTFont

from aftersit import kept
from aftersit.pages import fonts


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """Nothing was kept so far."""
    monkeypatch.setattr(kept, "KEPT", tmp_path / "kept")
    return tmp_path / "kept" / "fonts"


def test_it_has_the_signs_of_pages_with_the_widths_of_the_whole_font(empty):
    """Checked by fontTools against the packaged font."""
    cut = TTFont(io.BytesIO(fonts.page_font("Regular")))
    whole = TTFont(fonts.font_path("Regular"))
    signs = "äß−–µ²→≥Ω 7"
    for sign in map(ord, signs):
        name, other = cut.getBestCmap()[sign], whole.getBestCmap()[sign]
        assert cut["hmtx"][name] == whole["hmtx"][other]
    assert ord("א") not in cut.getBestCmap()


def test_it_is_cut_once(empty, monkeypatch):
    first = fonts.page_font("It")
    assert [path.suffix for path in empty.iterdir()] == [".woff"]
    monkeypatch.setattr(fonts, "_cut", None)
    assert fonts.page_font("It") == first


def test_other_signs_are_another_file(empty, monkeypatch):
    cut = iter([b"two", b"three"])
    monkeypatch.setattr(fonts, "_cut", lambda face: next(cut))
    assert fonts.page_font("Semibold") == b"two"
    monkeypatch.setattr(fonts, "FEATURES", ("kern",))
    assert fonts.page_font("Semibold") == b"three"
    assert len(list(empty.iterdir())) == 2


def test_where_nothing_can_be_kept_the_bytes_are_the_same(tmp_path, empty, monkeypatch):
    usual = fonts.page_font("It")
    blocked = tmp_path / "a file"
    blocked.touch()
    monkeypatch.setattr(kept, "KEPT", blocked)
    assert fonts.page_font("It") == usual


def test_another_user_may_read_what_was_kept(empty):
    fonts.page_font("It")
    (path,) = empty.iterdir()
    assert path.stat().st_mode & 0o777 == 0o644


def test_what_can_not_be_read_is_made_anew(empty):
    usual = fonts.page_font("It")
    (path,) = empty.iterdir()
    path.unlink()
    path.mkdir()
    assert fonts.page_font("It") == usual


def test_words_are_as_wide_as_the_fonts_advances(empty):
    """Sum of advances over units per em, without pairs that kern (OpenType, hmtx)."""
    font = TTFont(fonts.font_path("Regular"))
    names = [font.getBestCmap()[ord(c)] for c in "muon"]
    advances = sum(font["hmtx"][n][0] for n in names) / font["head"].unitsPerEm
    assert fonts.text_width("muon", 8.0) == pytest.approx(8.0 * advances, rel=0.02)
