"""The progress page's picture: sittings side by side on the yardstick."""

import numpy as np

from aftersit.pages.figures import Picture, colour, drawing
from aftersit.pages.format import db, interval_percent, length, percent
from aftersit.pages.progress_inputs import ProgressInputs, Sitting


def course(inputs: ProgressInputs) -> Picture:
    """Time in target, longest bout and each condition's level, sitting by sitting."""
    conditions = [c.name for c in inputs.used.conditions]
    heights = [1.5, 1.0, *[1.0] * len(conditions)]

    def draw(figure):
        axes = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights)
        axes[0].set_xlim(-0.5, len(inputs.sittings) - 0.5)
        _points(axes[0], inputs, "time in target (%)", _share)
        axes[0].set_ylim(0, 105)
        _points(axes[1], inputs, "longest bout (s)", _longest)
        axes[1].set_ylim(bottom=0)
        for axis, name in zip(axes[2:], conditions, strict=True):
            axis.axhline(0, color=colour("line"), lw=0.8)
            _points(axis, inputs, f"{name} over its baseline (dB)", _level(name))
        labels = [f"{s.label}" for s in inputs.sittings]
        axes[-1].set_xticks(range(len(labels)), labels)
        axes[-1].set_xlabel("sitting; filled: compared, open: shown only")

    title = f"Sittings of client {inputs.client} on the yardstick"
    return drawing("course", title, describe(inputs), 0.5 + 1.15 * sum(heights), draw)


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


def _points(axis, inputs: ProgressInputs, title: str, values) -> None:
    shown = [(i, s, values(s)) for i, s in enumerate(inputs.sittings) if s.measured]
    line = [(i, value) for i, s, (value, _, _) in shown if s.counts]
    axis.plot(*np.array(line).reshape(-1, 2).T, color=colour("quiet"), lw=0.8)
    for i, sitting, (value, low, high) in shown:
        if low is not None:
            axis.plot([i, i], [low, high], color=colour("deep"), lw=1.4)
        face = colour("deep") if sitting.counts else colour("paper")
        axis.plot([i], [value], "o", ms=6, mfc=face, mec=colour("deep"), mew=1.2)
    axis.set_title(title, pad=5)
    axis.margins(y=0.2)


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
