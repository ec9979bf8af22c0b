"""The typeface of pages: its files, and the part of each that a page carries."""

import functools
import hashlib
import io
from importlib.metadata import version
from pathlib import Path

from aftersit.kept import kept

FAMILY = "Source Sans Pro"

# Name in the font package, CSS weight, CSS style.
FACES = (("Regular", 400, "normal"), ("Semibold", 600, "normal"), ("It", 400, "italic"))

# Basic Latin to Latin Extended-B, Greek, general punctuation, sub- and
# superscripts, currency, arrows and mathematical signs: what pages print of
# their own. A note in another script falls back to the reader's fonts.
SUBSET = (
    *range(0x20, 0x250),
    *range(0x370, 0x400),
    *range(0x2000, 0x20D0),
    *range(0x2190, 0x2200),
    *range(0x2200, 0x2300),
)
FEATURES = ("kern", "tnum", "liga", "mark")


def font_path(face: str) -> Path:
    """File of one face (`Regular`, `Semibold`, `It`) in the font package."""
    import font_source_sans_pro

    return Path(font_source_sans_pro.font_directory) / f"SourceSansPro-{face}.ttf"


def page_font(face: str) -> bytes:
    """A face with the signs that pages print, as woff; kept, as cutting takes half a second."""
    return kept("fonts", f"{face}-{_checksum(face)}.woff", lambda: _cut(face))


def _checksum(face: str) -> str:
    """Of all that a kept part is made from."""
    facts = repr((SUBSET, FEATURES, version("fonttools"))).encode()
    return hashlib.sha256(font_path(face).read_bytes() + facts).hexdigest()[:16]


def _cut(face: str) -> bytes:
    from fontTools import subset, ttLib

    # woff rather than woff2: a third larger, but its compression costs 0.3 s less per page.
    options = subset.Options(flavor="woff", layout_features=list(FEATURES))
    # The font's own date of change stays, so that the bytes do not follow the clock.
    with ttLib.TTFont(font_path(face), recalcTimestamp=False) as font:
        subsetter = subset.Subsetter(options)
        subsetter.populate(unicodes=SUBSET)
        subsetter.subset(font)
        font.flavor = "woff"
        out = io.BytesIO()
        font.save(out)
    return out.getvalue()


@functools.cache
def _measure(face: str):
    from PIL import ImageFont

    return ImageFont.truetype(font_path(face), 100)


@functools.cache
def text_width(words: str, size: float, face: str = "Regular") -> float:
    """Width of words set on one line, in the unit of their size."""
    return _measure(face).getlength(words) * size / 100
