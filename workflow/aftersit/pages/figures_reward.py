"""What kept the reward away, and what changed after each break."""

from aftersit.clock import clock
from aftersit.findings import BreakResult
from aftersit.pages.answers_change import is_clear
from aftersit.pages.answers_reward import known_s, scored_blocks
from aftersit.pages.figures import HATCHES, Picture, colour, drawing
from aftersit.pages.format import db, interval_db, join, percent
from aftersit.pages.inputs import Replayed
from aftersit.record import BlockResult

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

    def draw(figure):
        axis = figure.subplots()
        for row, block in enumerate(blocks):
            _bar(axis, len(blocks) - row, parts_of(block), first=row == 0)
        axis.set_yticks(range(1, len(blocks) + 1), [f"block {b.index}" for b in reversed(blocks)])
        axis.set_ylim(0.5, len(blocks) + 0.5)
        axis.set_xlim(0, 100)
        axis.set_xlabel("% of the time that could be scored")
        axis.tick_params(left=False)
        axis.spines["left"].set_visible(False)
        figure.legend(loc="outside upper left", ncols=3, handlelength=1.6)

    height = 1.15 + 0.42 * len(blocks)
    return drawing(name, "What kept the reward away", f"{described}.", height, draw)


def _bar(axis, y: float, parts: Parts, first: bool) -> None:
    left = 0.0
    for number, (label, share) in enumerate(parts):
        kind = _kind(number, len(parts))
        axis.barh(
            y, share * 100, left=left, height=0.62, lw=0.6, label=label if first else None, **kind
        )
        if share >= 0.06:
            _share_label(axis, left + share * 50, y, share, inside_dark=number == 0)
        left += share * 100


def _kind(number: int, n_parts: int) -> dict:
    """Face, edge and hatch of a part: reward solid, conditions hatched, the rest blank."""
    ink = colour("ink")
    if number == 0:
        return {"facecolor": colour("deep"), "edgecolor": colour("deep")}
    if number == n_parts - 1:
        return {"facecolor": colour("paper"), "edgecolor": colour("middle")}
    if number == n_parts - 2 and n_parts > 3:
        return {"facecolor": colour("pale"), "edgecolor": ink}
    hatch = HATCHES[(number - 1) % len(HATCHES)]
    return {"facecolor": colour("paper"), "edgecolor": ink, "hatch": hatch}


def _share_label(axis, x: float, y: float, share: float, inside_dark: bool) -> None:
    if inside_dark:
        axis.text(x, y, percent(share), ha="center", va="center_baseline", color=colour("paper"))
        return
    box = {"facecolor": colour("paper"), "edgecolor": "none", "pad": 1.5}
    axis.text(x, y, percent(share), ha="center", va="center_baseline", bbox=box)


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
        f"{interval_db(c.low_db, c.high_db)}{'' if is_clear(c) else ', includes no change'}."
        for found, c in rows
    )

    def draw(figure):
        axis = figure.subplots()
        axis.axvline(0, color=colour("ink"), lw=0.8)
        for y, (_, c) in enumerate(reversed(rows)):
            axis.plot([c.low_db, c.high_db], [y, y], color=colour("deep"), lw=1.4)
            face = colour("deep") if is_clear(c) else colour("paper")
            axis.plot(c.change_db, y, "o", ms=6, mfc=face, mec=colour("deep"), mew=1.2)
        labels = [f"{_break_name(found)}: {c.condition}" for found, c in reversed(rows)]
        axis.set_yticks(range(len(rows)), labels)
        axis.tick_params(axis="y", left=False, labelcolor=colour("ink"))
        axis.spines["left"].set_visible(False)
        axis.set_ylim(-0.6, len(rows) - 0.4)
        axis.set_xlabel("change from before to after the break (dB, with 95 % interval)")

    return drawing(name, "Change after each break", described, 0.75 + 0.32 * len(rows), draw)


def _break_name(found: BreakResult) -> str:
    return f"break at {clock(found.start_s)}"
