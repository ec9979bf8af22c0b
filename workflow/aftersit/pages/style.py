"""The look of every page: one style sheet, its named tokens, one typeface family."""

import base64
import functools
import io
import re
from pathlib import Path
from typing import Literal

Target = Literal["screen", "print"]

TEMPLATES = Path(__file__).parents[3] / "templates"
STYLE_SHEET = TEMPLATES / "page.css"
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

_TOKEN = re.compile(r"^\s*--([a-z0-9-]+):\s*([^;]+);", re.MULTILINE)


def font_path(face: str) -> Path:
    """File of one face (`Regular`, `Semibold`, `It`) in the font package."""
    import font_source_sans_pro

    return Path(font_source_sans_pro.font_directory) / f"SourceSansPro-{face}.ttf"


@functools.cache
def tokens() -> dict[str, str]:
    """Named values of the style sheet, so that figures and pages share one palette."""
    return dict(_TOKEN.findall(STYLE_SHEET.read_text(encoding="utf-8")))


@functools.cache
def page_css(target: Target) -> str:
    """Style sheet with its fonts.

    Parameters
    ----------
    target : {"screen", "print"}
        `screen`: fonts embedded, nothing outside the text is needed.
        `print`: fonts by file, for `pdf.html_to_pdf` (which embeds its own subset).
    """
    return _font_faces(target) + STYLE_SHEET.read_text(encoding="utf-8")


def _font_faces(target: Target) -> str:
    rules = []
    for face, weight, slant in FACES:
        source = _data_uri(face) if target == "screen" else font_path(face).as_uri()
        rules.append(
            f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; '
            f'font-style: {slant}; src: url("{source}"); }}\n'
        )
    return "".join(rules)


def _data_uri(face: str) -> str:
    encoded = base64.b64encode(_subset(face)).decode("ascii")
    return f"data:font/woff;base64,{encoded}"


def _subset(face: str) -> bytes:
    from fontTools import subset, ttLib

    # woff rather than woff2: a third larger, but its compression costs 0.3 s less per page.
    options = subset.Options(flavor="woff", layout_features=["kern", "tnum", "liga", "mark"])
    # The font's own date of change stays, so that the bytes do not follow the clock.
    with ttLib.TTFont(font_path(face), recalcTimestamp=False) as font:
        subsetter = subset.Subsetter(options)
        subsetter.populate(unicodes=SUBSET)
        subsetter.subset(font)
        font.flavor = "woff"
        out = io.BytesIO()
        font.save(out)
    return out.getvalue()
