"""Whether a person has reviewed what a handout says, and still says."""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError

from aftersit.clinic import Clinic, SittingId
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.files import sha256, write_json
from aftersit.sheet import CODE_PATTERN, Code


class Released(Closed):
    """`.aftersit/reviews/<client>-<NN>.json`."""

    reviewer: Code
    date: dt.date
    made_from: Annotated[dict[str, str], Field(min_length=1)]
    """SHA-256 of each file that was reviewed, by its path from the clinic's folder."""


@dataclass(frozen=True)
class Reviewed:
    """Who reviewed, and when."""

    reviewer: str
    date: dt.date


def review_path(clinic: Clinic, sitting: SittingId) -> Path:
    """Where the review of a sitting is kept."""
    return clinic.state / "reviews" / f"{sitting.client}-{sitting.label}.json"


def answered_for(records: Iterable[Path], sheet: Path) -> list[Path]:
    """What a reviewer answers for: all that a handout tells, the sheet for its message."""
    return [*records, sheet]


def release(
    clinic: Clinic, sitting: SittingId, reviewer: str, made_from: Sequence[Path], today: dt.date
) -> Path:
    """Record that a person reviewed a sitting's result and releases the handout.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    sitting : SittingId
        The sitting.
    reviewer : str
        The reviewer's code, never a name.
    made_from : sequence of Path
        The files that the handout is made from: each `record.json`, and the
        sitting sheet, whose message it prints.
    today : date
        Date of the review.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    AftersitError
        The code is none, or there is nothing to review yet.
    """
    if not re.fullmatch(CODE_PATTERN, reviewer):
        raise AftersitError(
            f"'{reviewer}' is no reviewer's code; it has 2 to 16 letters (A-Z, a-z) or digits"
        )
    missing = [path for path in made_from if not path.is_file()]
    if missing or not made_from:
        raise AftersitError(
            f"{sitting} has no result to review yet; run `nightly` first, then read the report"
        )
    sums = _checksums(clinic, made_from)
    path = review_path(clinic, sitting)
    released = Released(reviewer=reviewer, date=today, made_from=sums)
    write_json(path, released.model_dump(mode="json"))
    return path


def reviewed(clinic: Clinic, sitting: SittingId, made_from: Sequence[Path]) -> Reviewed | None:
    """The review of exactly these files; None when there is none, or one has changed since.

    Raises
    ------
    AftersitError
        The review's file is damaged.
    """
    path = review_path(clinic, sitting)
    if not path.is_file():
        return None
    try:
        found = Released.model_validate_json(path.read_bytes())
    except ValidationError:
        raise AftersitError(
            f"the review of {sitting} is damaged; release it again: "
            f"scripts/aftersit release {sitting} --reviewer CODE --clinic FOLDER"
        ) from None
    if not all(p.is_file() for p in made_from) or found.made_from != _checksums(clinic, made_from):
        return None
    return Reviewed(found.reviewer, found.date)


def reviewed_or_none(
    clinic: Clinic, sitting: SittingId, made_from: Sequence[Path]
) -> Reviewed | None:
    """As `reviewed`, where a damaged review counts as none: the sitting is released again."""
    try:
        return reviewed(clinic, sitting, made_from)
    except AftersitError:
        return None


def _checksums(clinic: Clinic, paths: Sequence[Path]) -> dict[str, str]:
    root = clinic.root.resolve()
    return {p.resolve().relative_to(root).as_posix(): sha256([p]) for p in sorted(paths)}
