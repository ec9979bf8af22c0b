"""The blocks of a sitting: from the sheet or from annotations, inside the recording."""

from dataclasses import replace
from itertools import pairwise

from aftersit.blocks import Block, resolve
from aftersit.clinic import ClinicSettings
from aftersit.clock import clock
from aftersit.intake.problems import Note, Problem, UploadError
from aftersit.intake.readers import Annotation
from aftersit.intake.recording import Recording
from aftersit.intake.settings import IntakeSettings
from aftersit.sheet import Kind, Sheet, SheetBlock


def sitting_blocks(
    sheet: Sheet, recording: Recording, clinic: ClinicSettings, settings: IntakeSettings
) -> tuple[Block, ...]:
    """Resolve a sitting's blocks and cut a last one that runs over to the recording.

    Raises
    ------
    UploadError
        No blocks, overlapping blocks, or times outside the recording.
    """
    if sheet.blocks == "from-annotations":
        written = _from_annotations(recording.annotations, clinic.annotations)
    else:
        written = sheet.blocks
    blocks = resolve(sheet, written)
    end_s = recording.duration_s
    late = [
        b for b in blocks if b.stop_s > end_s + settings.block_tolerance_s or b.start_s >= end_s
    ]
    if late:
        raise UploadError(*(_outside(block, end_s) for block in late))
    return tuple(replace(b, stop_s=round(min(b.stop_s, end_s), 6)) for b in blocks)


def block_line(block: Block) -> str:
    """A block as it was understood, in one line."""
    times = f"{clock(block.start_s)}-{clock(block.stop_s)}"
    protocol = f", {block.protocol}" if block.kind is Kind.PRACTICE else ""
    return f"{block.index}: {block.kind.value} {times}, eyes {block.eyes}{protocol}"


def cover_notes(
    blocks: tuple[Block, ...], duration_s: float, settings: IntakeSettings
) -> list[Note]:
    """A note where the blocks take so little of a recording that their times may be mistaken."""
    taken_s = sum(block.stop_s - block.start_s for block in blocks)
    if taken_s >= settings.min_covered * duration_s:
        return []
    text = (
        f"all blocks together take {clock(taken_s)} of {clock(duration_s)}; see whether their "
        "times are right (mm:ss or h:mm:ss; a number alone is seconds)"
    )
    return [Note("blocks-cover-little", text)]


def _from_annotations(
    annotations: tuple[Annotation, ...], kinds: dict[str, Kind]
) -> tuple[SheetBlock, ...]:
    by_text = {text.strip(): kind for text, kind in kinds.items()}
    marked = [a for a in annotations if a.text in by_text]
    problems = _marker_problems(marked, sorted(by_text), len(annotations))
    if problems:
        raise UploadError(*problems)
    return tuple(
        SheetBlock(
            kind=by_text[a.text], start=max(a.onset_s, 0.0), end=round(a.onset_s + a.duration_s, 6)
        )
        for a in marked
    )


def _marker_problems(marked: list[Annotation], known: list[str], total: int) -> list[Problem]:
    todo = "write the blocks into the sheet, or correct `annotations` in clinic.yaml"
    if not marked:
        found = f"none of the recording's {total} annotations marks a block"
        return [_marker_problem("no-blocks", f"{found}; known: {', '.join(known) or 'none'}", todo)]
    problems = [
        _marker_problem("block-without-length", f"'{a.text}' at {clock(a.onset_s)} has none", todo)
        for a in marked
        if a.duration_s <= 0
    ]
    for one, two in pairwise(marked):
        if two.onset_s < one.onset_s + one.duration_s - 1e-6:
            found = f"'{one.text}' at {clock(one.onset_s)} and '{two.text}' at {clock(two.onset_s)}"
            problems.append(_marker_problem("blocks-overlap", f"{found} overlap", todo))
    return problems


def _marker_problem(code: str, found: str, todo: str) -> Problem:
    return Problem(code, "annotations of the recording", found, todo)


def _outside(block: Block, end_s: float) -> Problem:
    return Problem(
        "block-outside",
        f"blocks.{block.index}",
        f"{clock(block.start_s)}-{clock(block.stop_s)}, but the recording ends at {clock(end_s)}",
        "correct the block's times; they count from the start of the recording",
    )
