"""The sitting on one time axis: blocks, bouts, bad spans and each condition."""

import numpy as np
import pandas as pd

from aftersit.blocks import Block
from aftersit.clock import clock
from aftersit.pages import reasons
from aftersit.pages.answers_reward import scored_blocks
from aftersit.pages.canvas import SMALL, WIDTH
from aftersit.pages.figures import Picture, clock_ticks, drawing
from aftersit.pages.fonts import text_width
from aftersit.pages.format import band, count, db, join, length, percent, place, span
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.panel import Panel, round_ticks, stacked
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


_STRIPS = {"blocks": 34.0, "rewards": 46.0, "muscle": 19.0, "drowsy": 19.0}
_CONDITION, _GAP, _LEFT = 84.0, 20.0, 66.0
"""Heights of panels and what lies between them, and the room for words beside them, in points."""


def timeline(inputs: SittingInputs, replay: Replayed, name: str) -> Picture:
    """Draw a replay over the whole sitting."""
    drawn = [c for c in replay.record.conditions if _is_drawn(replay, c)]
    strips = stacked(list(_STRIPS.values()), 4, 3)
    panels = stacked([_CONDITION] * len(drawn), strips[-1][1] + _GAP, _GAP)
    ticks = clock_ticks(inputs.quality.duration_s)

    def draw(canvas):
        def panel(lane, y=(0.0, 1.0)):
            box = (_LEFT, lane[0], WIDTH - 18, lane[1])
            return Panel(canvas, box, (0, inputs.quality.duration_s), y)

        _blocks(panel(strips[0]), inputs)
        _rewards(panel(strips[1], (0, 2)), inputs, replay)
        _muscle(panel(strips[2]), replay, inputs.settings.clean.muscle.verdict.share[1])
        _drowsy(panel(strips[3]), inputs)
        for lane, condition in zip(panels, drawn, strict=True):
            time_s, level_db = _levels(replay, condition)
            _condition(panel(lane, _limits(level_db)), inputs, condition, time_s, level_db)
        for lane in (panels or strips[-1:])[:-1]:
            panel(lane).x_axis(ticks, words=False)
        last = panel((panels or strips)[-1])
        last.x_axis(ticks, "time from the start of the recording (mm:ss)")

    title = f"The sitting over time, {replay.protocol.title}"
    height = (panels or strips)[-1][1] + 32
    return drawing(name, title, describe(inputs, replay), height, draw)


def _is_drawn(replay: Replayed, condition: ConditionResult) -> bool:
    table = replay.cleaned
    return table is not None and f"{condition.name}_value" in table and not condition.refused


def _blocks(panel: Panel, inputs: SittingInputs) -> None:
    for block in inputs.blocks:
        face = {Kind.PRACTICE: "paper", Kind.BASELINE: "wash"}.get(block.kind, "pale")
        span = [(block.start_s, block.stop_s)]
        panel.spans(span, (0.1, 0.9), fill=face, stroke="ink", width=0.7)
        whole, number = f"{block.index} {block.kind.value}", str(block.index)
        _inside(panel, block, next((w for w in (whole, number) if _fits(panel, block, w)), ""))


def _fits(panel: Panel, block: Block, words: str) -> bool:
    return panel.x(block.stop_s) - panel.x(block.start_s) > text_width(words, SMALL) + 3


def _inside(panel: Panel, block: Block, words: str) -> None:
    """Words in the middle of a block's part of a panel."""
    middle = float(panel.x((block.start_s + block.stop_s) / 2))
    panel.canvas.words(middle, float(panel.y(0.5)), words, "middle")


def _rewards(panel: Panel, inputs: SittingInputs, replay: Replayed) -> None:
    panel.y_axis({1.5: "in target", 0.5: "uncleaned"}, line=False)
    for result, y, face in (
        (replay.record.cleaned, (1.1, 1.9), "deep"),
        (replay.record.uncleaned, (0.3, 0.7), "middle"),
    ):
        if result is not None:
            panel.spans([(b.start_s, b.stop_s) for b in result.bouts], y, fill=face)
    _bad(panel, inputs)


def _muscle(panel: Panel, replay: Replayed, share: float) -> None:
    """Seconds in which muscle makes a large share of a measure before cleaning."""
    panel.y_axis({0.5: "muscle signs"}, line=False)
    spans = [(a, a + length_s) for a, length_s in muscle_spans(replay, share)]
    panel.spans(spans, (0.1, 0.9), fill="paper", stroke="ink", width=0.5, hatch="rising")
    if replay.record.muscle and not spans:
        _nothing(panel)


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


def _drowsy(panel: Panel, inputs: SittingInputs) -> None:
    """Suspected spans; blocks of which nothing can be told say so."""
    found = inputs.record.drowsiness
    panel.y_axis({0.5: "drowsy signs"}, line=False)
    spans = [(s.start_s, s.stop_s) for s in found.spans]
    panel.spans(spans, (0.1, 0.9), fill="paper", stroke="ink", width=0.7, hatch="dotted")
    unknown = {b.index for b in found.blocks if b.verdict == "cant-tell"}
    for block in inputs.blocks:
        if block.index in unknown:
            _inside(panel, block, "can't tell" if _fits(panel, block, "can't tell") else "?")
    if not spans and not unknown:
        _nothing(panel)


def _nothing(panel: Panel) -> None:
    """An empty lane says that it is empty, and not that something is missing."""
    panel.canvas.words(panel.box[0] + 4, float(panel.y(0.5)), "no sign found", fill="quiet")


def _bad(panel: Panel, inputs: SittingInputs) -> None:
    """Over the whole height of a panel, and never too narrow to be seen."""
    least_s = inputs.quality.duration_s / 500
    spans = [(b.start_s, max(b.stop_s, b.start_s + least_s)) for b in inputs.quality.bad_spans]
    panel.spans(spans, (panel.y.low, panel.y.high), fill=None, hatch="rising")


def _levels(replay: Replayed, condition: ConditionResult) -> tuple[np.ndarray, np.ndarray]:
    """Time in seconds and level in dB of what is drawn of a condition."""
    table = replay.cleaned
    values = relative_db(table, condition)
    values[~table["state"].isin(["reward", "no-reward"])] = np.nan
    return thinned(table["time_s"].to_numpy(float), values)


def _condition(
    panel: Panel,
    inputs: SittingInputs,
    condition: ConditionResult,
    time_s: np.ndarray,
    level_db: np.ndarray,
) -> None:
    panel.filled(time_s, level_db, 0, "pale")
    panel.level(0)
    panel.curve(time_s, level_db, stroke="deep", width=0.7)
    panel.y_axis({t: _level_words(t) for t in _level_ticks(panel.y.low, panel.y.high)})
    _bad(panel, inputs)
    where = place(condition.place, condition.kind)
    words = f"{condition.name}: {where}, {band(condition.band_hz)}"
    if condition.direction == "below":
        words += " (must stay below; drawn upside down)"
    panel.title(words)


def _limits(values_db: np.ndarray) -> tuple[float, float]:
    """From the threshold as far as the line goes, few outliers left aside."""
    known = values_db[np.isfinite(values_db)]
    low, high = np.quantile(known, (0.005, 0.995)) if len(known) else (0.0, 0.0)
    return min(low, -LEAST_REACH_DB) - 0.5, max(high, LEAST_REACH_DB) + 0.5


def _level_ticks(low_db: float, high_db: float) -> list[float]:
    return [t for t in round_ticks(low_db, high_db, 4) if t % 5 == 0]


def _level_words(value_db: float) -> str:
    """A level; zero by its name."""
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
