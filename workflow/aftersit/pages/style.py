"""The look of every page: one style sheet and its named tokens."""

import base64
import functools
import re
from pathlib import Path
from typing import Literal

from aftersit.pages.fonts import FACES, FAMILY, font_path, page_font

Target = Literal["screen", "print"]

TEMPLATES = Path(__file__).parents[3] / "templates"
STYLE_SHEET = TEMPLATES / "page.css"

_TOKEN = re.compile(r"^\s*--([a-z0-9-]+):\s*([^;]+);", re.MULTILINE)


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
    encoded = base64.b64encode(page_font(face)).decode("ascii")
    return f"data:font/woff;base64,{encoded}"
