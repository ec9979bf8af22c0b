"""What kept the reward away, and what changed after each break."""

from aftersit.clock import clock
from aftersit.findings import BreakResult
from aftersit.pages.answers_change import is_clear, leaves_out_zero
from aftersit.pages.answers_reward import known_s, scored_blocks
from aftersit.pages.canvas import HATCHES, SMALL, WIDTH
from aftersit.pages.figures import Picture, drawing
from aftersit.pages.fonts import text_width
from aftersit.pages.format import db, interval_db, join, percent
from aftersit.pages.inputs import Replayed
from aftersit.pages.panel import Panel, round_ticks
from aftersit.record import BlockResult

_BAR, _ROW = 28.0, 22.0
"""Heights of a block's bar and of a break's row, with the room around them, in points."""

Parts = list[tuple[str, float]]


def parts_of(block: BlockResult) -> Parts:
    """How a block's known time divides: name and share of it, adding up to 1."""
    known = known_s(block)
    if not known:
        return []
    off = block.seconds.no_reward_s / known
    parts = [("in target", block.seconds.reward_s / known)]
    parts += [(f"only {c.name}", (c.deciding_share or 0.0) * off) for c in block.conditions]
    if len(block.conditions) > 1:
        parts.append(("more than one", (block.several_failing_share or 0.0) * off))
    rest = 1 - sum(share for _, share in parts)
    return [*parts, ("all met, waiting for onset", max(rest, 0.0))]


def obstacles(replay: Replayed, name: str) -> Picture:
    """For each scored block, what its known time went to."""
    blocks = [b for b in scored_blocks(replay.record.cleaned) if known_s(b)]
    described = "; ".join(
        f"Block {b.index}: " + join([f"{n} {percent(s)}" for n, s in parts_of(b)]) for b in blocks
    )

    looks = [_look(n, len(parts_of(blocks[0]))) for n in range(len(parts_of(blocks[0])))]
    names = [label for label, _ in parts_of(blocks[0])]
    rows = -(-len(names) // 3)
    height = rows * 15 + 8 + _BAR * len(blocks) + 32

    def draw(canvas):
        top = canvas.legend(list(zip(names, looks, strict=True)), 2)
        box = (56, top + 6, WIDTH - 12, height - 32)
        panel = Panel(canvas, box, (0, 100), (0.5, len(blocks) + 0.5))
        for row, block in enumerate(blocks):
            _bar(panel, len(blocks) - row, parts_of(block), looks)
        words = {len(blocks) - n: f"block {b.index}" for n, b in enumerate(blocks)}
        panel.y_axis(words, line=False, fill="ink")
        panel.x_axis({v: f"{v}" for v in range(0, 101, 20)}, "% of the time that could be scored")

    return drawing(name, "What kept the reward away", f"{described}.", height, draw)


def _bar(panel: Panel, y: float, parts: Parts, looks: list[dict]) -> None:
    left = 0.0
    for number, ((_, share), look) in enumerate(zip(parts, looks, strict=True)):
        if share > 0:
            panel.spans([(left * 100, (left + share) * 100)], (y - 0.31, y + 0.31), **look)
        if share >= 0.06:
            fill = {"fill": "paper"} if number == 0 else {"backed": True}
            x = float(panel.x((left + share / 2) * 100))
            panel.canvas.words(x, float(panel.y(y)), percent(share), "middle", **fill)
        left += share


def _look(number: int, n_parts: int) -> dict:
    """Fill, edge and hatch of a part: reward solid, conditions hatched, the rest blank."""
    if number == 0:
        return {"fill": "deep", "stroke": "deep"}
    if number == n_parts - 1:
        return {"fill": "paper", "stroke": "middle"}
    if number == n_parts - 2 and n_parts > 3:
        return {"fill": "pale", "stroke": "ink"}
    return {"fill": "paper", "stroke": "ink", "hatch": HATCHES[(number - 1) % len(HATCHES)]}


def break_changes(replay: Replayed, name: str) -> Picture:
    """Change of each condition over each break, with its 95 % interval."""
    rows = [
        (found, c)
        for found in replay.record.breaks
        for c in found.changes
        if None not in (c.change_db, c.low_db, c.high_db)
    ]
    described = " ".join(
        f"{_break_name(found)}, {c.condition}: {db(c.change_db)}, 95 % interval "
        f"{interval_db(c.low_db, c.high_db)}{'' if leaves_out_zero(c) else ', includes no change'}."
        for found, c in rows
    )

    labels = [f"{_break_name(found)}: {c.condition}" for found, c in rows]
    ends = [v for _, c in rows for v in (c.low_db, c.high_db)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    reach = (low - 0.06 * (high - low), high + 0.06 * (high - low))
    height = _ROW * len(rows) + 40

    def draw(canvas):
        box = (max(text_width(w, SMALL) for w in labels) + 14, 4, WIDTH - 12, height - 32)
        panel = Panel(canvas, box, reach, (-0.6, len(rows) - 0.4))
        panel.upright(0)
        for y, (_, c) in enumerate(reversed(rows)):
            panel.curve([c.low_db, c.high_db], [y, y], stroke="deep", width=1.4)
            canvas.dot(float(panel.x(c.change_db)), float(panel.y(y)), is_clear(c))
        panel.y_axis(dict(enumerate(reversed(labels))), line=False, fill="ink")
        ticks = {t: db(t).replace(".0", "") for t in round_ticks(*reach, 7)}
        panel.x_axis(ticks, "change from before to after the break (with 95 % interval)")

    return drawing(name, "Change after each break", described, height, draw)


def _break_name(found: BreakResult) -> str:
    return f"break at {clock(found.start_s)}"
