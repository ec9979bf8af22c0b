"""The progress page's picture: sittings side by side on the yardstick."""

import numpy as np

from aftersit.pages.canvas import WIDTH
from aftersit.pages.figures import Picture, drawing
from aftersit.pages.format import db, interval_percent, length, number, percent
from aftersit.pages.panel import Panel, round_ticks, stacked
from aftersit.pages.progress_inputs import ProgressInputs, Sitting


def course(inputs: ProgressInputs) -> Picture:
    """Time in target, longest bout and each condition's level, sitting by sitting."""
    conditions = [c.name for c in inputs.used.conditions]
    measures = [("time in target (%)", _share), ("longest bout (s)", _longest)]
    measures += [(f"{n} over its baseline (dB)", _level(n)) for n in conditions]
    heights = [108.0, 76.0, *[76.0] * len(conditions)]
    places = stacked(heights, 20, 28)

    def draw(canvas):
        for n, ((words, values), place) in enumerate(zip(measures, places, strict=True)):
            shown = [(i, s, values(s)) for i, s in enumerate(inputs.sittings) if s.measured]
            limits = (0, 105) if n == 0 else _limits([v for *_, v in shown], least=n == 1)
            box = (44, place[0], WIDTH - 12, place[1])
            panel = Panel(canvas, box, (-0.5, len(inputs.sittings) - 0.5), limits)
            if n > 1:
                panel.level(0, stroke="line")
            _points(panel, shown)
            panel.title(words)
            panel.y_axis({t: number(t, 0) for t in _ticks(limits)})
            last = n == len(measures) - 1
            ticks = {float(i): s.label for i, s in enumerate(inputs.sittings)}
            below = "sitting; filled: compared, open: shown only" if last else ""
            panel.x_axis(ticks, below, words=last)

    title = f"Sittings of client {inputs.client} on the yardstick"
    return drawing("course", title, describe(inputs), places[-1][1] + 34, draw)


def _limits(values: list[tuple], least: bool) -> tuple[float, float]:
    """A little more than the points and their intervals need; from zero where `least`."""
    known = [v for found in values for v in found if v is not None] or [0.0]
    low, high = min(0.0, *known, 0.0), max(0.0, *known, 0.0)
    room = 0.12 * ((high - low) or 1.0)
    return (0.0 if least else low - room), high + room


def _ticks(limits: tuple[float, float]) -> list[float]:
    return [t for t in round_ticks(*limits, 4) if t == int(t)]


def _share(sitting: Sitting):
    found = sitting.measured
    return tuple(None if v is None else v * 100 for v in (found.share, found.low, found.high))


def _longest(sitting: Sitting):
    return sitting.measured.longest_s or 0.0, None, None


def _level(name: str):
    def values(sitting: Sitting):
        level = sitting.measured.levels[name]
        return level.db, level.low_db, level.high_db

    return values


def _points(panel: Panel, shown: list[tuple]) -> None:
    """A dot for each sitting with its interval; a line joins those that are compared."""
    line = [(i, value) for i, s, (value, _, _) in shown if s.counts]
    if line:
        panel.curve(*np.array(line, float).T, stroke="quiet")
    for i, sitting, (value, low, high) in shown:
        if low is not None:
            panel.curve([i, i], [low, high], stroke="deep", width=1.4)
        panel.canvas.dot(float(panel.x(i)), float(panel.y(value)), sitting.counts)


def describe(inputs: ProgressInputs) -> str:
    """The picture's facts in words."""
    return " ".join(_told(s, inputs) for s in inputs.sittings)


def _told(sitting: Sitting, inputs: ProgressInputs) -> str:
    found = sitting.measured
    if found is None:
        return f"Sitting {sitting.label}: not on the yardstick."
    interval = ""
    if found.low is not None:
        interval = f" ({interval_percent(found.low, found.high)})"
    levels = [f"{c.name} {db(found.levels[c.name].db)}" for c in inputs.used.conditions]
    return (
        f"Sitting {sitting.label}{'' if sitting.counts else ', not compared'}: in target "
        f"{percent(found.share)}{interval}, longest bout {length(found.longest_s)}, "
        f"over baseline {', '.join(levels)}."
    )
