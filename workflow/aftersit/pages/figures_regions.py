"""Pictures of regions: where a measure comes from, and what two active places look like."""

import base64
from dataclasses import dataclass

from markupsafe import Markup, escape

from aftersit.head.measures import RegionMeasures
from aftersit.pages.figures import HATCHES, Picture, colour, drawing
from aftersit.pages.format import db, join, percent, region
from aftersit.pages.inputs import SittingInputs
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

    def draw(figure):
        axis = figure.subplots()
        for offset, side, hatch, fill in ((0.2, 0, "", "ink"), (-0.2, 1, HATCHES[0], "paper")):
            values = [pair[side] for pair in rises.values()]
            places = [len(rises) - row + offset for row in range(len(rises))]
            axis.barh(
                places,
                values,
                height=0.36,
                color=colour(fill),
                edgecolor=colour("ink"),
                hatch=hatch,
                lw=0.7,
                label=("left measure", "right measure")[side],
            )
        axis.axvline(RAISED_DB, color=colour("quiet"), lw=0.8, ls=":")
        axis.set_yticks([len(rises) - row for row in range(len(rises))], list(rises))
        axis.set_xlim(0, RAISED_DB * 1.05)
        axis.set_xlabel(f"rise of the measure, dB; dotted: what was put in ({RAISED_DB:g} dB)")
        axis.tick_params(left=False)
        figure.legend(loc="outside upper left", ncols=2, handlelength=1.6)

    title = f"Two simulated places: {words}, left and right"
    return drawing(label, title, f"{described}.", 2.1, draw)


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
