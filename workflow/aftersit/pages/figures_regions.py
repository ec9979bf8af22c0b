"""Pictures of regions: where a measure comes from, and what two active places look like."""

import base64
from dataclasses import dataclass

from markupsafe import Markup, escape

from aftersit.head.measures import RegionMeasures
from aftersit.pages.canvas import HATCHES, WIDTH
from aftersit.pages.figures import Picture, drawing
from aftersit.pages.format import db, join, percent, region
from aftersit.pages.inputs import SittingInputs
from aftersit.pages.panel import Panel
from aftersit.pages.style import Target
from aftersit.pages.tables_regions import MEASURES, conditions
from aftersit.record import ConditionResult

BRAIN_CAPTION = (
    "Inflated template brain: left from outside, left and right at the midline, right from "
    "outside. Outlined: the region. Half of the measure comes from where it is darkest when all "
    "cortex is equally active; with the next shade 80 %, with the third 95 %."
)
RAISED_DB = 10.0
"""How far a simulated place stands over the rest of the cortex."""
_HEIGHT = 148.0
"""Of the picture of two places, in points."""


@dataclass(frozen=True)
class BrainMap:
    """A brain map with the words that carry its facts."""

    title: str
    description: str
    png: bytes

    def element(self, _: Target) -> Markup:
        """The same image on screen and in print."""
        encoded = base64.b64encode(self.png).decode("ascii")
        words = escape(f"{self.title}. {self.description}")
        return Markup(f'<img class="wide" alt="{words}" src="data:image/png;base64,{encoded}">')


def brain_maps(inputs: SittingInputs) -> list[BrainMap]:
    """One for each region measure that a condition rests on."""
    return [
        BrainMap(_title(c), _description(c), inputs.pictures[_key(c)])
        for c in conditions(inputs)
        if c.purity and _key(c) in inputs.pictures
    ]


def _key(c: ConditionResult) -> str:
    return c.place if c.measure == "sloreta" else f"{c.place}/{c.measure}"


def _title(c: ConditionResult) -> str:
    return f"Where the {MEASURES[c.measure]} measure of the {region(c.place)} comes from"


def _description(c: ConditionResult) -> str:
    heard = [f"{region(name)} {percent(share)}" for name, share in c.purity.neighbours]
    own = f"From the region itself {percent(c.purity.share)}"
    return f"{own}; from {join(heard)}; the rest from farther away." if heard else f"{own}."


def two_sides(inputs: SittingInputs) -> list[Picture]:
    """Simulated: a region active on the left, on the right, on both sides; what measures show."""
    if inputs.regions is None:
        return []
    names = {c.place.rpartition("-")[0]: c for c in conditions(inputs) if c.purity}
    return [
        _two_sides(inputs.regions, name, c, f"sides{i}")
        for i, (name, c) in enumerate(names.items(), 1)
        if f"{name}-left" in inputs.regions.keys
    ]


def _two_sides(regions: RegionMeasures, name: str, c: ConditionResult, label: str) -> Picture:
    rises = simulated_rises(regions, name, c.measure)
    words = region(f"{name}-left").removeprefix("left ")
    described = "; ".join(
        f"{scene}: left measure {db(left)}, right measure {db(right)}"
        for scene, (left, right) in rises.items()
    )

    looks = (
        ("left measure", {"fill": "ink", "stroke": "ink"}),
        ("right measure", {"fill": "paper", "stroke": "ink", "hatch": HATCHES[0]}),
    )

    def draw(canvas):
        top = canvas.legend(looks, 2)
        box = (90, top + 4, WIDTH - 12, _HEIGHT - 32)
        panel = Panel(canvas, box, (0, RAISED_DB * 1.05), (0.4, len(rises) + 0.6))
        for row, pair in enumerate(rises.values()):
            for value, (_, look), offset in zip(pair, looks, (0.2, -0.2), strict=True):
                y = len(rises) - row + offset
                panel.spans([(0.0, value)], (y - 0.18, y + 0.18), **look)
        panel.upright(RAISED_DB, stroke="quiet", dash="2 2")
        panel.y_axis({len(rises) - n: scene for n, scene in enumerate(rises)}, False, "ink")
        below = f"rise of the measure (dB); dotted: what was put in, {RAISED_DB:g} dB"
        panel.x_axis({v: f"{v}" for v in range(0, int(RAISED_DB) + 1, 2)}, below)

    title = f"Two simulated places: {words}, left and right"
    return drawing(label, title, f"{described}.", _HEIGHT, draw)


def simulated_rises(
    regions: RegionMeasures, name: str, measure: str
) -> dict[str, tuple[float, float]]:
    """Rise in dB of the left and the right measure when places stand over an even cortex.

    A place that gives the part p of a measure raises it by 10 log10(1 + (g - 1) p)
    when its own power rises g-fold.
    """
    import numpy as np

    gain = 10 ** (RAISED_DB / 10) - 1
    parts = {side: _parts(regions, name, side, measure) for side in ("left", "right")}
    scenes = {"left alone": (1, 0), "right alone": (0, 1), "both sides": (1, 1)}
    return {
        f"active: {scene}": tuple(
            float(10 * np.log10(1 + gain * (on[0] * parts[side][0] + on[1] * parts[side][1])))
            for side in ("left", "right")
        )
        for scene, on in scenes.items()
    }


def _parts(regions: RegionMeasures, name: str, side: str, measure: str) -> tuple[float, float]:
    """Parts of one side's measure that the left and the right region give."""
    heard = regions.heard(f"{name}-{side}", measure)
    other = heard.purity / 10 ** (heard.other_side_db / 10)
    return (heard.purity, other) if side == "left" else (other, heard.purity)
