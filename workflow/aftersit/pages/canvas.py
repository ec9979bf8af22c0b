"""Vector drawings from few parts: words, lines, areas and hatches, in points (1/72 inch).

A page needs a handful of plain pictures, each once; a plotting library would cost more
processor time than all else of the page.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from markupsafe import escape

from aftersit.pages.fonts import FAMILY, text_width
from aftersit.pages.style import tokens

WIDTH = 619.2
"""Drawn width (8.6 inches); the page scales it. 9 pt in the drawing is about 8 pt on A4."""
SMALL, USUAL = 8.0, 9.0
"""Sizes of words."""

_TILE = 5
# What is drawn in a square tile of a hatch, so that tiles join.
_STROKES = {
    "rising": "M-1 1L1-1M0 5L5 0M4 6L6 4",
    "falling": "M-1 4L1 6M0 0L5 5M4-1L6 1",
    "upright": "M2.5 0V5",
    "crossed": "M0 5L5 0M0 0L5 5",
    "level": "M0 2.5H5",
    "dotted": "M2.5 2V3",
}
HATCHES = tuple(name for name in _STROKES if name != "dotted")
"""Conditions, in the order of the protocol: told apart without colour."""


def colour(name: str) -> str:
    """A colour token of the style sheet."""
    return tokens()[name]


def points(x: np.ndarray, y: np.ndarray) -> str:
    """Path through points, begun anew after a gap (nan)."""
    known = np.isfinite(x) & np.isfinite(y)
    begins = known & ~np.concatenate(([False], known[:-1]))
    marks = np.where(begins, "M", "L")
    return "".join(
        f"{mark}{_n(a)} {_n(b)}"
        for mark, a, b in zip(marks[known], x[known], y[known], strict=True)
    )


def rectangles(left: Iterable[float], top: float, width: Iterable[float], height: float) -> str:
    """One path for many bars: hundreds are no slower to print than one."""
    return "".join(
        f"M{_n(a)} {_n(top)}h{_n(w)}v{_n(height)}h{_n(-w)}z"
        for a, w in zip(left, width, strict=True)
    )


def _n(value: float) -> str:
    """A coordinate to a hundredth of a point."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Canvas:
    """A drawing in the making; y grows downwards.

    Parameters
    ----------
    name : str
        Name inside the page; ids start with it.
    height : float
        Points, at a width of `WIDTH`.
    """

    def __init__(self, name: str, height: float):
        self.name, self.height = name, height
        self._parts: list[str] = []
        self._hatches: dict[tuple[str, str], str] = {}

    def words(
        self,
        x: float,
        y: float,
        text: str,
        anchor: str = "start",
        fill: str = "ink",
        size: float = SMALL,
        backed: bool = False,
    ) -> None:
        """Words whose middle is at the height y; `backed` puts paper behind them."""
        if not text:
            return
        if backed:
            width = text_width(text, size) + 4
            left = x - width * {"start": 0, "middle": 0.5, "end": 1}[anchor]
            self.area(rectangles([left], y - size * 0.62, [width], size * 1.24), "paper")
        self._parts.append(
            f'<text x="{_n(x)}" y="{_n(y + 0.34 * size)}" font-size="{_n(size)}" '
            f'text-anchor="{anchor}" fill="{colour(fill)}">{escape(text)}</text>'
        )

    def line(self, path: str, stroke: str = "ink", width: float = 0.8, dash: str = "") -> None:
        """A line along a path."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<path d="{path}" fill="none" stroke="{colour(stroke)}" '
            f'stroke-width="{_n(width)}"{dashes}/>'
        )

    def area(
        self,
        path: str,
        fill: str | None,
        stroke: str | None = None,
        width: float = 0.6,
        hatch: str | None = None,
    ) -> None:
        """An area, and a hatch over it in the colour of its edge, or quiet without one."""
        edge = f'stroke="{colour(stroke)}" stroke-width="{_n(width)}"' if stroke else ""
        if not path:
            return
        if fill:
            self._parts.append(f'<path d="{path}" fill="{colour(fill)}" {"" if hatch else edge}/>')
        if hatch:
            pattern = self._pattern(hatch, stroke or "quiet")
            self._parts.append(f'<path d="{path}" fill="url(#{pattern})" {edge}/>')

    def dot(self, x: float, y: float, filled: bool) -> None:
        """A round mark, filled or open."""
        fill = colour("deep" if filled else "paper")
        self._parts.append(
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="3" fill="{fill}" '
            f'stroke="{colour("deep")}" stroke-width="1.2"/>'
        )

    def _pattern(self, hatch: str, stroke: str) -> str:
        number = len(self._hatches) + 1
        return self._hatches.setdefault((hatch, stroke), f"{self.name}-{number}")

    def legend(self, marks: Sequence[tuple[str, dict]], top: float, columns: int = 3) -> float:
        """Swatches with their words in rows from the left; returns where the rows end.

        A mark is its words and the keywords of `area`, or of `line` where it has a `dash`.
        """
        row, gap = 15.0, 24.0
        for first in range(0, len(marks), columns):
            x = 2.0
            for text, look in marks[first : first + columns]:
                self._swatch(x, top + row / 2, look)
                self.words(x + 22, top + row / 2, text)
                x += 22 + text_width(text, SMALL) + gap
            top += row
        return top

    def _swatch(self, x: float, y: float, look: dict) -> None:
        if "dash" in look:
            self.line(f"M{_n(x)} {_n(y)}h17", **look)
        else:
            self.area(rectangles([x], y - 4, [16], 8), **look)

    @property
    def content(self) -> str:
        """What stands inside the `svg` element."""
        patterns = "".join(
            f'<pattern id="{name}" width="{_TILE}" height="{_TILE}" patternUnits="userSpaceOnUse">'
            f'<path d="{_STROKES[hatch]}" fill="none" stroke="{colour(stroke)}" '
            f'stroke-width="{1 if hatch == "dotted" else 0.6}"/></pattern>'
            for (hatch, stroke), name in self._hatches.items()
        )
        family = f"'{FAMILY}', 'Noto Sans', sans-serif"
        return f'<defs>{patterns}</defs><g font-family="{family}">{"".join(self._parts)}</g>'
