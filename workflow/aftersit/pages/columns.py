"""How wide a table's columns are in print.

Left to find that out, the printer sets each cell's text again for each of its words; told, it
prints a report in four fifths of the time.
"""

import re
from collections.abc import Sequence

from aftersit.pages.fonts import text_width

SIZE, PADDING = 8.55, 8.55
"""Of a table's text, and what lies between two columns, in points; as in `page.css` for print."""
ROOM, LEAST = 504.5, 190.0
"""Width of a sheet between its margins, and the least of a table, in points."""
SLACK = 1.02
"""Figures of one width, which tables use, are a little wider than those that are measured."""

_BREAK = re.compile(" |(?<=[-\N{EN DASH}])")
"""Where a line may end."""


def columns(heads: Sequence[object], rows: Sequence[Sequence[object]]) -> list[float]:
    """Widths of columns in points: what their cells need on one line, if there is room.

    Else each gets what its longest word needs, and of the rest a part that grows with what
    it lacks (as CSS 2.1, 17.5.2.2, suggests). Nothing is said where not even the words have
    room: then the printer has to break them.
    """
    cells = [[str(cell) for cell in row] for row in rows]
    whole, least = [], []
    for n, head in enumerate(map(str, heads)):
        column = [row[n] for row in cells if n < len(row)]
        whole.append(max(_needs([head], "Semibold"), _needs(column)))
        words = [word for cell in column for word in _BREAK.split(cell)]
        least.append(max(_needs(_BREAK.split(head), "Semibold"), _needs(words)))
    return [round(width, 1) for width in _shared(whole, least)]


def _needs(texts: Sequence[str], face: str = "Regular") -> float:
    widest = max((text_width(text, SIZE, face) for text in texts), default=0.0)
    return widest * SLACK + PADDING


def _shared(whole: Sequence[float], least: Sequence[float]) -> list[float]:
    natural, smallest = sum(whole), sum(least)
    if natural <= ROOM:
        return [w * max(1.0, LEAST / natural) for w in whole]
    if smallest > ROOM:
        return []
    part = (ROOM - smallest) / (natural - smallest)
    return [a + part * (b - a) for a, b in zip(least, whole, strict=True)]
