"""Drawing for pages: vector pictures that carry their own words and the same bytes each time."""

import base64
import functools
import io
import re
from dataclasses import dataclass

from markupsafe import Markup, escape

from aftersit.pages.style import FAMILY, Target, font_path, tokens

WIDTH_IN = 8.6
"""Drawn width; the page scales it. 9 pt in the drawing is about 8 pt on A4."""

# Conditions, in the order of the protocol: told apart without colour.
HATCHES = ("///", "\\\\\\", "|||", "xx", "--")

_ID = re.compile(r'\bid="([^"]+)"')
_USE = re.compile(r'(?:xlink:href="#|url\(#)([^")]+)')
_SIZE = re.compile(r'<svg[^>]*?viewBox="([^"]+)"[^>]*>')


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
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'viewBox="{self.view_box}"{attributes}>{words}{self.drawing}</svg>'
        )


def colour(name: str) -> str:
    """A colour token of the style sheet."""
    return tokens()[name]


@functools.cache
def _register_fonts() -> None:
    from matplotlib import font_manager

    for face in ("Regular", "Semibold", "It"):
        font_manager.fontManager.addfont(font_path(face))


def _settings() -> dict:
    ink, quiet, line = colour("ink"), colour("quiet"), colour("line")
    return {
        "font.family": FAMILY,
        "font.size": 9.0,
        "svg.fonttype": "none",
        "text.parse_math": False,
        "svg.hashsalt": "aftersit",
        "axes.edgecolor": line,
        "axes.labelcolor": quiet,
        "axes.linewidth": 0.7,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.titlesize": 9.0,
        "axes.titlelocation": "left",
        "axes.unicode_minus": True,
        "text.color": ink,
        "xtick.color": quiet,
        "ytick.color": quiet,
        "xtick.labelsize": 8.0,
        "ytick.labelsize": 8.0,
        "legend.frameon": False,
        "legend.fontsize": 8.0,
        "hatch.linewidth": 0.5,
        "path.simplify": True,
        "path.simplify_threshold": 0.4,
    }


def drawing(name: str, title: str, description: str, height_in: float, draw) -> Picture:
    """Draw on a fresh figure.

    Parameters
    ----------
    name : str
        Name inside the page; its ids start with it.
    title, description : str
        What it shows, and the facts that it shows.
    height_in : float
        Height in inches, at a width of `WIDTH_IN`.
    draw : callable
        Gets the matplotlib figure.
    """
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    _register_fonts()
    with matplotlib.rc_context(_settings()):
        figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)
        out = io.StringIO()
        figure.savefig(
            out,
            format="svg",
            transparent=True,
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
        )
    content, view_box = _content(out.getvalue(), name)
    return Picture(name, title, description, content, view_box)


def _content(svg: str, name: str) -> tuple[str, str]:
    """Inside of the `svg` element, its ids made the page's own, and its view box."""
    opening = _SIZE.search(svg)
    content = svg[opening.end() : svg.rindex("</svg>")]
    content = re.sub(r"<metadata>.*?</metadata>", "", content, flags=re.DOTALL)
    content = re.sub(r"<!--.*?-->", "", content, flags=re.DOTALL)
    # Numbered by first use: the drawing library's own ids follow objects in memory.
    names = {old: f"{name}-{n}" for n, old in enumerate(dict.fromkeys(_USE.findall(content)), 1)}
    content = _ID.sub(lambda m: f'id="{names[m[1]]}"' if m[1] in names else "", content)
    content = _USE.sub(lambda m: m[0].replace(m[1], names[m[1]]), content)
    return re.sub(r"\n\s*", "\n", content), opening[1]


def clock_axis(axis) -> None:
    """Label an axis in seconds with minutes and seconds."""
    from matplotlib.ticker import FuncFormatter, MultipleLocator

    from aftersit.clock import clock

    low, high = axis.get_view_interval()
    steps = (30, 60, 120, 300, 600, 1200, 3600)
    step = next((s for s in steps if (high - low) / s <= 15), steps[-1])
    axis.set_major_locator(MultipleLocator(step))
    axis.set_major_formatter(FuncFormatter(lambda value, _: clock(max(value, 0))))
