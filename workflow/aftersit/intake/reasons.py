"""Why an upload was set aside: codes for machines, plain words for people."""

import shlex
from collections.abc import Sequence
from itertools import takewhile
from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from aftersit.closed import Closed
from aftersit.intake.problems import Problem
from aftersit.sheet import LiveThreshold, Ratings, Sheet, SheetBlock

_KEYS = frozenset(
    key for model in (Sheet, SheetBlock, Ratings, LiveThreshold) for key in model.model_fields
)


WHY_JSON, WHY_TEXT = "why.json", "why.txt"
"""Names of the two files, beside the upload in its folder under `set-aside/`."""

_FIRST_WORDS = "This upload was set aside: "


class Reason(Closed):
    """One problem without its words."""

    code: str
    place: str


class Why(Closed):
    """`why.json`: no free text and nothing from the sheet but names of its keys."""

    schema_version: Literal["1"] = "1"
    reasons: tuple[Reason, ...]


def why_json(problems: Sequence[Problem]) -> str:
    """Text of `why.json`."""
    why = Why(reasons=tuple(Reason(code=p.code, place=_place(p.place)) for p in problems))
    return why.model_dump_json(indent=2) + "\n"


def _place(place: str) -> str:
    """A place without keys that the sheet does not know: they may be anyone's text."""
    file, separator, keys = place.partition(": ")
    known = takewhile(lambda key: key in _KEYS or key.isdigit(), keys.split("."))
    inside = ".".join(known) if not keys.startswith("line ") else keys
    return f"{file}{separator}{inside}" if inside else file


def why_text(name: str, problems: Sequence[Problem]) -> str:
    """Text of `why.txt`: what is wrong, where, what to do, and how to send the upload again.

    Parameters
    ----------
    name : str
        The upload's folder under `set-aside/`, as text on one line.
    problems : sequence of Problem
        At least one.
    """
    return (
        f"{_FIRST_WORDS}{_count(problems)} must be put right first.\n"
        "Nothing of it was changed or lost.\n\n"
        f"{_listed(problems)}\n"
        "Then send it again: correct the files in this folder (set-aside/"
        f"{name}) and run\n\n    scripts/aftersit retry {shlex.quote(name)} --clinic FOLDER\n"
    )


def check_text(problems: Sequence[Problem]) -> str:
    """What `check` prints of an upload that a night would set aside; nothing was moved."""
    return (
        f"A night would set this upload aside: {_count(problems)} must be put right first.\n\n"
        f"{_listed(problems)}\n"
        "This was only a check: nothing was moved. Correct the files where they are, then check "
        "again.\n"
    )


def _count(problems: Sequence[Problem]) -> str:
    return "one thing" if len(problems) == 1 else f"{len(problems)} things"


def _listed(problems: Sequence[Problem]) -> str:
    return "\n".join(
        f"{number}. Where: {p.place}\n   What:  {p.found}\n   To do: {p.todo}\n"
        for number, p in enumerate(problems, 1)
    )


def remove_reasons(upload: Path) -> None:
    """Take away the reasons of an earlier time from an upload that was moved back by hand."""
    if not upload.is_symlink():
        for path in our_reasons(upload):
            path.unlink()


def our_reasons(folder: Path) -> list[Path]:
    """The two files with reasons in an upload's folder, if this program wrote them."""
    files = [folder / WHY_JSON, folder / WHY_TEXT]
    plain = all(p.is_file() and not p.is_symlink() for p in files)
    return files if plain and _are_ours(*files) else []


def _are_ours(codes: Path, words: Path) -> bool:
    try:
        Why.model_validate_json(codes.read_bytes())
    except ValidationError:
        return False
    return words.read_bytes().startswith(_FIRST_WORDS.encode())
