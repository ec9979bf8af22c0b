"""Figures of pages: vector pictures that carry their own words."""

import base64
from collections.abc import Callable
from dataclasses import dataclass

from markupsafe import Markup, escape

from aftersit.clock import clock
from aftersit.pages.canvas import WIDTH, Canvas
from aftersit.pages.style import Target


@dataclass(frozen=True)
class Picture:
    """A figure: its drawing and the words that carry the same facts."""

    name: str
    title: str
    description: str
    drawing: str
    """Content of the `svg` element."""
    view_box: str

    def element(self, target: Target) -> Markup:
        """The element for a page.

        On screen the drawing stands in the page, its words beside it. For print it is an
        image: only then does the PDF take its alternative text, and the printer does not
        read a drawing's attributes as the page's style.
        """
        if target == "print":
            encoded = base64.b64encode(self._svg().encode()).decode("ascii")
            words = escape(f"{self.title}. {self.description}")
            return Markup(f'<img alt="{words}" src="data:image/svg+xml;base64,{encoded}">')
        return Markup(
            self._svg(
                f' role="img" aria-labelledby="{self.name}-title {self.name}-description"',
                f'<title id="{self.name}-title">{escape(self.title)}</title>'
                f'<desc id="{self.name}-description">{escape(self.description)}</desc>',
            )
        )

    def _svg(self, attributes: str = "", words: str = "") -> str:
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" '
            f'viewBox="{self.view_box}"{attributes}>{words}{self.drawing}</svg>'
        )


def drawing(
    name: str, title: str, description: str, height: float, draw: Callable[[Canvas], None]
) -> Picture:
    """Draw on a fresh canvas.

    Parameters
    ----------
    name : str
        Name inside the page; its ids start with it.
    title, description : str
        What it shows, and the facts that it shows.
    height : float
        Points, at a width of `canvas.WIDTH`.
    draw : callable
        Gets the canvas.
    """
    canvas = Canvas(name, height)
    draw(canvas)
    return Picture(name, title, description, canvas.content, f"0 0 {WIDTH:g} {height:g}")


def clock_ticks(stop_s: float) -> dict[float, str]:
    """Ticks of an axis in seconds with minutes and seconds."""
    steps = (30, 60, 120, 300, 600, 1200, 3600)
    step = next((s for s in steps if stop_s / s <= 15), steps[-1])
    return {float(t): clock(t) for t in range(0, int(stop_s) + 1, step)}
