"""The sitting on one time axis: blocks, bouts, bad spans and each condition."""

import numpy as np
import pandas as pd

from aftersit.clock import clock
from aftersit.pages import reasons
from aftersit.pages.answers_reward import scored_blocks
from aftersit.pages.figures import Picture, clock_axis, colour, drawing
from aftersit.pages.format import band, count, db, join, length, percent, place, span
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.record import ConditionResult
from aftersit.sheet import Kind

MOST_POINTS = 900
"""Points of a drawn line: about as many as a screen shows beside each other."""
LEAST_REACH_DB = 6.0
"""Drawn at least on either side of the threshold, so that a quiet line looks quiet."""


def relative_db(table: pd.DataFrame, condition: ConditionResult) -> np.ndarray:
    """A condition's smoothed value relative to its threshold, shape (n_steps,), in dB.

    Signed so that above zero is met, whatever the condition's direction.
    """
    value = table[f"{condition.name}_value"].to_numpy(float)
    threshold = table[f"{condition.name}_threshold"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        db_over = 10 * np.log10(value / threshold)
    db_over[~np.isfinite(db_over)] = np.nan
    return db_over if condition.direction == "above" else -db_over


def thinned(time_s: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value of each of `MOST_POINTS` / 2 stretches, in the order of time.

    Both ends of the range survive, so that no crossing of the threshold is lost.
    """
    if len(values) <= MOST_POINTS:
        return time_s, values
    step = -(-len(values) // (MOST_POINTS // 2))
    kept: list[int] = []
    for start in range(0, len(values), step):
        part = values[start : start + step]
        if np.all(np.isnan(part)):
            kept.append(start)
        else:
            ends = {start + int(np.nanargmin(part)), start + int(np.nanargmax(part))}
            kept += sorted(ends)
    return time_s[kept], values[kept]


def timeline(inputs: SittingInputs, replay: Replayed, name: str) -> Picture:
    """Draw a replay over the whole sitting."""
    drawn = [c for c in replay.record.conditions if _is_drawn(replay, c)]
    heights = [0.55, 0.75, 0.32, 0.32, *[1.3] * len(drawn)]

    def draw(figure):
        axes = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights)
        axes[0].set_xlim(0, inputs.quality.duration_s * 1.001)
        _blocks(axes[0], inputs)
        _rewards(axes[1], inputs, replay)
        _muscle(axes[2], replay, inputs.settings.clean.muscle.verdict.share[1])
        _drowsy(axes[3], inputs)
        for axis, condition in zip(axes[4:], drawn, strict=True):
            _condition(axis, inputs, replay, condition)
        clock_axis(axes[-1].xaxis)
        axes[-1].set_xlabel("time from the start of the recording (mm:ss)")

    title = f"The sitting over time, {replay.protocol.title}"
    return drawing(name, title, describe(inputs, replay), 0.6 + sum(heights) * 0.92, draw)


def _is_drawn(replay: Replayed, condition: ConditionResult) -> bool:
    table = replay.cleaned
    return table is not None and f"{condition.name}_value" in table and not condition.refused


def _blocks(axis, inputs: SittingInputs) -> None:
    axis.set_ylim(0, 1)
    axis.set_yticks([])
    axis.spines[:].set_visible(False)
    axis.tick_params(bottom=False)
    total = inputs.quality.duration_s
    for block in inputs.blocks:
        width = block.stop_s - block.start_s
        face = {Kind.PRACTICE: "paper", Kind.BASELINE: "wash"}.get(block.kind, "pale")
        axis.broken_barh(
            [(block.start_s, width)],
            (0.1, 0.8),
            facecolor=colour(face),
            edgecolor=colour("ink"),
            lw=0.7,
        )
        words = f"{block.index} {block.kind.value}" if width / total > 0.09 else str(block.index)
        axis.text(block.start_s + width / 2, 0.5, words, ha="center", va="center_baseline", size=8)


def _rewards(axis, inputs: SittingInputs, replay: Replayed) -> None:
    axis.set_ylim(0, 2)
    axis.set_yticks([1.5, 0.5], ["in target", "uncleaned"])
    axis.tick_params(left=False, bottom=False)
    axis.spines[:].set_visible(False)
    for result, base, face in (
        (replay.record.cleaned, 1.1, colour("deep")),
        (replay.record.uncleaned, 0.3, colour("middle")),
    ):
        if result is not None:
            bars = [(b.start_s, b.stop_s - b.start_s) for b in result.bouts]
            height = 0.8 if base > 1 else 0.4
            axis.broken_barh(bars, (base, height), facecolor=face, lw=0)
    _bad(axis, inputs)


def _muscle(axis, replay: Replayed, share: float) -> None:
    """Seconds in which muscle makes a large share of a measure before cleaning."""
    axis.set_ylim(0, 1)
    axis.set_yticks([0.5], ["muscle signs"])
    axis.tick_params(left=False, bottom=False)
    axis.spines[:].set_visible(False)
    bars = muscle_spans(replay, share)
    axis.broken_barh(
        bars, (0.1, 0.8), facecolor=colour("paper"), edgecolor=colour("ink"), hatch="////", lw=0.5
    )


def muscle_spans(replay: Replayed, share: float) -> list[tuple[float, float]]:
    """(start_s, length_s) where muscle's share of a measure that it could earn is this or more."""
    table, account = replay.uncleaned, replay.record.muscle
    names = dict.fromkeys(f.condition for f in account.earning) if account else ()
    columns = [f"{n}_muscle" for n in names if table is not None and f"{n}_muscle" in table]
    if not columns:
        return []
    tense = table[columns].max(axis=1).to_numpy(float) >= share
    edges = np.flatnonzero(np.diff(np.concatenate(([0], tense.astype(np.int8), [0]))))
    time_s = np.append(table["time_s"].to_numpy(float), table["time_s"].iloc[-1])
    return [
        (float(time_s[a]), float(time_s[b] - time_s[a]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _drowsy(axis, inputs: SittingInputs) -> None:
    """Suspected spans; blocks of which nothing can be told say so."""
    found = inputs.record.drowsiness
    axis.set_ylim(0, 1)
    axis.set_yticks([0.5], ["drowsy signs"])
    axis.tick_params(left=False, bottom=False)
    axis.spines[:].set_visible(False)
    bars = [(s.start_s, s.stop_s - s.start_s) for s in found.spans]
    axis.broken_barh(
        bars, (0.1, 0.8), facecolor=colour("paper"), edgecolor=colour("ink"), hatch="....", lw=0.7
    )
    unknown = {b.index for b in found.blocks if b.verdict == "cant-tell"}
    for block in inputs.blocks:
        if block.index in unknown:
            width = block.stop_s - block.start_s
            words = "can't tell" if width / inputs.quality.duration_s > 0.09 else "?"
            middle = block.start_s + width / 2
            axis.text(middle, 0.5, words, ha="center", va="center_baseline", size=7)


def _bad(axis, inputs: SittingInputs) -> None:
    for bad in inputs.quality.bad_spans:
        axis.axvspan(
            bad.start_s,
            bad.stop_s,
            facecolor="none",
            edgecolor=colour("quiet"),
            hatch="////",
            lw=0,
        )


def _condition(axis, inputs, replay: Replayed, condition: ConditionResult) -> None:
    table = replay.cleaned
    values = relative_db(table, condition)
    values[~table["state"].isin(["reward", "no-reward"])] = np.nan
    time_s, shown = thinned(table["time_s"].to_numpy(float), values)
    axis.axhline(0, color=colour("ink"), lw=0.8)
    axis.fill_between(time_s, 0, shown, where=shown > 0, facecolor=colour("pale"), lw=0)
    axis.plot(time_s, shown, lw=0.7, color=colour("deep"))
    _level_axis(axis, shown)
    _bad(axis, inputs)
    where = place(condition.place, condition.kind)
    words = f"{condition.name}: {where}, {band(condition.band_hz)}"
    if condition.direction == "below":
        words += " (must stay below; drawn upside down)"
    axis.set_title(words, pad=2)


def _level_axis(axis, values_db: np.ndarray) -> None:
    """From the threshold as far as the line goes, few outliers left aside; zero by its name."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    known = values_db[np.isfinite(values_db)]
    low, high = np.quantile(known, (0.005, 0.995)) if len(known) else (0.0, 0.0)
    axis.set_ylim(min(low, -LEAST_REACH_DB) - 0.5, max(high, LEAST_REACH_DB) + 0.5)
    axis.yaxis.set_major_locator(MaxNLocator(4, steps=(1, 5, 10)))
    axis.yaxis.set_major_formatter(FuncFormatter(_level_words))


def _level_words(value_db: float, _position: int | None = None) -> str:
    return "threshold" if value_db == 0 else db(value_db).replace(".0", "")


def describe(inputs: SittingInputs, replay: Replayed) -> str:
    """The timeline's facts in words."""
    blocks = [f"{b.index} {b.kind.value} {span(b.start_s, b.stop_s)}" for b in inputs.blocks]
    text = f"Blocks: {join(blocks)}. {_bad_words(inputs)} {_muscle_words(inputs, replay)} "
    text += _drowsy_words(inputs)
    result = replay.record.cleaned
    if result is None:
        return text
    for block in scored_blocks(result):
        text += (
            f" Block {block.index}: in target {percent(block.in_target_share)}, "
            f"{count(block.bouts, 'bout')}"
        )
        text += f", longest {length(block.longest_bout_s)}." if block.bouts else "."
        for c in block.conditions:
            text += f" {c.name}: met {percent(c.met_share)}, median {db(c.median_db)}."
    longest = max(result.bouts, key=lambda b: b.stop_s - b.start_s, default=None)
    if longest is not None:
        text += f" The longest bout starts at {clock(longest.start_s)}."
    return text


def _bad_words(inputs: SittingInputs) -> str:
    spans = inputs.quality.bad_spans
    if not spans:
        return "No bad spans."
    named = [
        f"{span(b.start_s, b.stop_s)} ({reasons.plain(reasons.SPAN, b.reason)})" for b in spans[:6]
    ]
    more = f" and {len(spans) - 6} more" if len(spans) > 6 else ""
    return f"Bad spans: {', '.join(named)}{more}."


def _muscle_words(inputs: SittingInputs, replay: Replayed) -> str:
    share = inputs.settings.clean.muscle.verdict.share[1]
    spans = muscle_spans(replay, share)
    total_s = sum(length_s for _, length_s in spans)
    return (
        f"Muscle makes {percent(share)} or more of a measure before cleaning for {length(total_s)}."
        if spans
        else "No second in which muscle makes a large share of a measure was found."
    )


def _drowsy_words(inputs: SittingInputs) -> str:
    found = inputs.record.drowsiness
    unknown = [str(b.index) for b in found.blocks if b.verdict == "cant-tell"]
    named = [span(s.start_s, s.stop_s) for s in found.spans[:6]]
    more = f" and {len(found.spans) - 6} more" if len(found.spans) > 6 else ""
    text = f"Drowsy signs: {', '.join(named) or 'no suspected span'}{more}."
    return f"{text} Can't tell for block {join(unknown)}." if unknown else text
