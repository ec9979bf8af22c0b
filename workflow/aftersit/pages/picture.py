"""The handout's one picture: the sitting as a bar, with the times in the target state."""

from collections.abc import Sequence
from dataclasses import dataclass

from aftersit.pages.phrases import Phrase
from aftersit.pages.tally import Tally, scored_blocks, tally, told_bouts
from aftersit.pages.values import Duration
from aftersit.record import Record
from aftersit.sheet import Kind

WIDTH, LEFT, BAR_Y, BAR_HEIGHT = 680.0, 2.0, 4.0, 46.0
HEIGHT = BAR_Y + BAR_HEIGHT + 24.0
THINNEST = 1.2
"""Width below which a bout would not be seen in print."""
MOST_TICKS = 8


@dataclass(frozen=True)
class Rect:
    """A stretch of the bar, in the picture's own units."""

    x: float
    width: float


@dataclass(frozen=True)
class Tick:
    """A mark on the axis, in minutes."""

    x: float
    minute: int


@dataclass(frozen=True)
class Picture:
    """All that the template draws, and the same facts in words."""

    length_s: float
    practice: tuple[Rect, ...]
    bouts: tuple[Rect, ...]
    ticks: tuple[Tick, ...]
    alt: tuple[Phrase, ...]
    scored: bool = True
    """Without a score the practice is hatched: empty, it would read as 'goal never met'."""
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    bar_y: float = BAR_Y
    bar_height: float = BAR_HEIGHT


def picture(records: Sequence[Record], practice: Sequence[tuple[float, float]]) -> Picture:
    """Lay out the bar.

    Parameters
    ----------
    records : sequence of Record
        One for each protocol of the sitting.
    practice : sequence of (float, float)
        Start and end of the practice blocks, in seconds; for sittings without
        a scored block.
    """
    length_s = records[0].quality.duration_s
    told = tally(records)
    scored = scored_blocks(records)
    spans = practice or [(b.start_s, b.stop_s) for _, b in scored if b.kind == Kind.PRACTICE]
    bouts = [(b.start_s, b.stop_s) for b in told_bouts(records)]
    return Picture(
        length_s=length_s,
        practice=tuple(_rect(a, b, length_s) for a, b in spans),
        bouts=tuple(_rect(a, b, length_s, THINNEST) for a, b in bouts),
        ticks=tuple(_ticks(length_s)),
        alt=tuple(_alt(length_s, spans, told)),
        scored=told is not None,
    )


def _scale(length_s: float) -> float:
    return (WIDTH - 2 * LEFT) / length_s


def _rect(start_s: float, stop_s: float, length_s: float, thinnest: float = 0.0) -> Rect:
    scale = _scale(length_s)
    width = max((stop_s - start_s) * scale, thinnest)
    return Rect(round(LEFT + start_s * scale, 2), round(width, 2))


def _ticks(length_s: float) -> list[Tick]:
    """Whole minutes, at a step that leaves room for their labels."""
    minutes = int(length_s // 60)
    step = next(s for s in (1, 2, 5, 10, 20, 60, 240) if minutes / s <= MOST_TICKS)
    scale = _scale(length_s)
    return [Tick(round(LEFT + 60 * m * scale, 2), m) for m in range(0, minutes + 1, step)]


def _alt(length_s: float, spans: Sequence[tuple[float, float]], told: Tally | None) -> list[Phrase]:
    said = [Phrase("handout.picture.alt", {"length": Duration(length_s)})]
    if spans:
        practice = Duration(sum(b - a for a, b in spans))
        said.append(Phrase("handout.picture.alt_practice", {"practice": practice}))
    return [*said, _alt_goal(told)]


def _alt_goal(told: Tally | None) -> Phrase:
    if told is None:
        return Phrase("handout.picture.alt_not_scored")
    if told.bouts == 0:
        return Phrase("handout.picture.alt_no_goal")
    total = Duration(told.reward_s)
    if told.bouts == 1:
        return Phrase("handout.picture.alt_goal_once", {"total": total})
    return Phrase("handout.picture.alt_goal", {"n": told.bouts, "total": total})
