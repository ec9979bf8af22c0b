"""A panel of a drawing: values to places, and what stands around it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.pages.canvas import SMALL, USUAL, Canvas, points, rectangles

_TICK = 3.5


@dataclass(frozen=True)
class Scale:
    """From values to points of the drawing; beyond its ends values stay at the end."""

    low: float
    high: float
    begin: float
    end: float
    log: bool = False

    def __call__(self, value):
        """Places of values, in the shape given; nan stays nan."""
        low, high = self.low, self.high
        value = np.clip(np.asarray(value, float), low, high)
        if self.log:
            low, high, value = np.log10(low), np.log10(high), np.log10(value)
        return self.begin + (value - low) / (high - low) * (self.end - self.begin)


class Panel:
    """Part of a canvas with its own scales.

    Parameters
    ----------
    canvas : Canvas
    box : tuple of float
        Left, top, right, bottom in points.
    x, y : tuple of float
        Lowest and highest value along each.
    log : bool
        Whether y is logarithmic.
    """

    def __init__(
        self,
        canvas: Canvas,
        box: tuple[float, float, float, float],
        x: tuple[float, float],
        y: tuple[float, float],
        log: bool = False,
    ):
        self.canvas, self.box = canvas, box
        left, top, right, bottom = box
        self.x, self.y = Scale(*x, left, right), Scale(*y, bottom, top, log)

    def spans(self, spans: Sequence[tuple[float, float]], y: tuple[float, float], **look) -> None:
        """Bars from start to stop along x, from y[0] up to y[1]; look as of `Canvas.area`."""
        if len(spans) == 0:
            return
        edges = self.x(np.array(spans, float))
        top, bottom = float(self.y(y[1])), float(self.y(y[0]))
        path = rectangles(edges[:, 0], top, edges[:, 1] - edges[:, 0], bottom - top)
        self.canvas.area(path, **look)

    def curve(self, x: np.ndarray, y: np.ndarray, **look) -> None:
        """A line through values, with gaps at nan; look as of `Canvas.line`."""
        self.canvas.line(points(self.x(x), self.y(y)), **look)

    def filled(self, x: np.ndarray, y: np.ndarray, base: float, fill: str) -> None:
        """The area between a base and what lies above it."""
        over = self.y(np.nan_to_num(np.maximum(y, base), nan=base))
        level = float(self.y(base))
        ends = np.concatenate(([level], over, [level]))
        places = self.x(np.concatenate(([x[0]], x, [x[-1]])))
        self.canvas.area(points(places, ends) + "z", fill)

    def level(self, value: float, **look) -> None:
        """A line across at a value of y."""
        left, _, right, _ = self.box
        y = np.full(2, float(self.y(value)))
        self.canvas.line(points(np.array([left, right]), y), **look)

    def upright(self, value: float, **look) -> None:
        """A line from bottom to top at a value of x."""
        _, top, _, bottom = self.box
        x = np.full(2, float(self.x(value)))
        self.canvas.line(points(x, np.array([bottom, top])), **look)

    def title(self, words: str) -> None:
        """Words over the panel."""
        self.canvas.words(self.box[0], self.box[1] - 8, words, size=USUAL)

    def y_axis(self, ticks: dict[float, str], line: bool = True, fill: str = "quiet") -> None:
        """Words beside the panel at values of y, with an axis unless `line` is off."""
        left, top, _, bottom = self.box
        if line:
            self.canvas.line(points(np.full(2, left), np.array([top, bottom])), "line", 0.7)
        for value, words in ticks.items():
            y = float(self.y(value))
            if line:
                self.canvas.line(points(np.array([left - _TICK, left]), np.full(2, y)), "line", 0.7)
            self.canvas.words(left - _TICK - 4, y, words, "end", fill)

    def x_axis(self, ticks: dict[float, str], label: str = "", words: bool = True) -> None:
        """An axis below the panel, its words left out where `words` is off."""
        left, _, right, bottom = self.box
        self.canvas.line(points(np.array([left, right]), np.full(2, bottom)), "line", 0.7)
        for value, text in ticks.items():
            x = float(self.x(value))
            self.canvas.line(points(np.full(2, x), np.array([bottom, bottom + _TICK])), "line", 0.7)
            if words:
                self.canvas.words(x, bottom + _TICK + 7, text, "middle", "quiet")
        if label:
            middle = (left + right) / 2
            self.canvas.words(middle, bottom + _TICK + 7 + SMALL * 1.6, label, "middle", "quiet")


def stacked(heights: Sequence[float], top: float, gap: float) -> list[tuple[float, float]]:
    """Top and bottom of panels over each other."""
    begins = top + np.cumsum([0.0, *(h + gap for h in heights)])
    return [(float(a), float(a) + h) for a, h in zip(begins, heights, strict=False)]


def round_ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round values within limits, at most `most` + 1: 1, 2 or 5 times a power of ten apart."""
    span = high - low
    power = 10.0 ** np.floor(np.log10(span / most))
    step = next(m * power for m in (1, 2, 5, 10) if span / (m * power) <= most)
    first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
    return [float(round(k * step, 10)) + 0.0 for k in np.arange(first, last + 1)]
