"""Versions of the algorithms, and the labels under which results stand.

A label names a settings version, and from the second version of the algorithms on
that as well: `s1`, then `s1.2`. So results of both can stand side by side.
"""

from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from aftersit.closed import Closed
from aftersit.errors import AftersitError

TABLE = Path(__file__).parents[2] / "shared" / "algorithms.yaml"
Stage = Literal["clean", "regions", "replay"]
STAGES: tuple[Stage, ...] = ("clean", "regions", "replay")
"""In the order of the data flow."""


class AlgorithmVersion(Closed):
    """One version: where figures may differ from the one before, and how."""

    number: Annotated[int, Field(ge=1)]
    stages: Annotated[tuple[Stage, ...], Field(min_length=1)]
    changes: Annotated[str, Field(min_length=5, max_length=400)]


class Algorithms(Closed):
    """`shared/algorithms.yaml`."""

    versions: Annotated[tuple[AlgorithmVersion, ...], Field(min_length=1)]


@cache
def versions() -> tuple[AlgorithmVersion, ...]:
    """All versions, oldest first; AftersitError when their numbers do not count up."""
    found = Algorithms.from_yaml(TABLE, "shared/algorithms.yaml").versions
    if [v.number for v in found] != list(range(1, len(found) + 1)):
        raise AftersitError("shared/algorithms.yaml: versions are numbered 1, 2, 3, ...")
    return found


def current() -> int:
    """The version that this program computes with; it has no other."""
    return versions()[-1].number


def label_of(settings: str, number: int) -> str:
    """Label of results made with a settings version and a version of the algorithms.

    Examples
    --------
    >>> label_of("s1", 1), label_of("s1", 3)
    ('s1', 's1.3')
    """
    return settings if number == 1 else f"{settings}.{number}"


def split_label(label: str) -> tuple[str, int]:
    """Settings version and version of the algorithms of a label.

    Examples
    --------
    >>> split_label("s1"), split_label("s1.3")
    (('s1', 1), ('s1', 3))
    """
    settings, _, number = label.partition(".")
    return settings, int(number or 1)


def changed_since(number: int) -> tuple[AlgorithmVersion, ...]:
    """The versions that came after this one."""
    return tuple(v for v in versions() if v.number > number)
