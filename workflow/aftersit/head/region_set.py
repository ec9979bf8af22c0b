"""Which regions are measured: those of the atlas, and unions of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated

import numpy as np
from pydantic import Field, field_validator

from aftersit.closed import Closed
from aftersit.errors import AftersitError, InvalidFileError
from aftersit.head.atlas import HEMISPHERES, half_keys, region_titles
from aftersit.patterns import NAME_PATTERN

TABLE = Path(__file__).parents[3] / "shared" / "region_unions.yaml"
SIDES = (*HEMISPHERES, "both")


class Unions(Closed):
    """`regions.yaml` of a clinic, and the shipped table: unions of atlas regions."""

    unions: dict[
        Annotated[str, Field(pattern=NAME_PATTERN)],
        Annotated[tuple[str, ...], Field(min_length=2)],
    ]

    @field_validator("unions")
    @classmethod
    def _of_the_atlas(cls, unions: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
        for name, parts in unions.items():
            _check_name(name)
            _check_parts(name, parts)
        return unions


def _check_name(name: str) -> None:
    if name in region_titles():
        raise ValueError(f"'{name}' is a region of the atlas; give the union another name")
    if name.rpartition("-")[2] in SIDES:
        raise ValueError(
            f"'{name}' ends with a side; a union is measured left, right and on both sides anyway"
        )


def _check_parts(name: str, parts: tuple[str, ...]) -> None:
    for part in parts:
        if part not in region_titles():
            near = get_close_matches(part, region_titles(), n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            raise ValueError(
                f"'{name}' holds '{part}', which is no region of the atlas{hint}. "
                f"Regions: {', '.join(region_titles())}"
            )
    if len(set(parts)) < len(parts):
        raise ValueError(f"'{name}' names a region twice")


@dataclass(frozen=True)
class RegionSet:
    """The regions of the atlas and unions of them, each left, right and on both sides.

    A measure's key is `REGION-left`, `REGION-right` or `REGION-both`.

    Attributes
    ----------
    unions : tuple of (str, tuple of str)
        Name of each union and the atlas regions that it holds.
    """

    unions: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @cached_property
    def parts(self) -> dict[str, tuple[str, ...]]:
        """Name of each region or union -> the atlas regions that it holds."""
        return {name: (name,) for name in region_titles()} | dict(self.unions)

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Names of all region measures: `insula-left`, `insula-right`, `insula-both`, ..."""
        return tuple(f"{name}-{side}" for name in self.parts for side in SIDES)

    def split(self, key: str) -> tuple[str, str]:
        """Region (or union) and side of a region measure's name.

        Raises
        ------
        AftersitError
            No such measure.

        Examples
        --------
        >>> RegionSet().split("insula-right")
        ('insula', 'right')
        """
        if key not in self.keys:
            near = get_close_matches(key, self.keys, n=3)
            hint = f"; nearest: {', '.join(near)}" if near else ""
            raise AftersitError(
                f"there is no region measure '{key}'{hint}. A name is REGION-left, REGION-right "
                f"or REGION-both, with REGION one of: {', '.join(self.parts)}"
            )
        name, _, side = key.rpartition("-")
        return name, side

    def members(self, key: str, region: np.ndarray, hemisphere: np.ndarray) -> np.ndarray:
        """Which of the sources a measure is about; mask of the same length.

        Parameters
        ----------
        key : str
        region, hemisphere : ndarray of str, shape (n_sources,)
            Atlas region and side of each source.
        """
        name, side = self.split(key)
        inside = np.isin(region, self.parts[name])
        return inside if side == "both" else inside & (hemisphere == side)

    def halves(self, key: str) -> np.ndarray:
        """Which of `atlas.half_keys()` a measure is about; mask, shape (68,)."""
        region, _, hemisphere = np.array([half.rpartition("-") for half in half_keys()]).T
        return self.members(key, region, hemisphere)

    def title(self, key: str) -> str:
        """The region of a measure as a reader says it, without its side."""
        name, _ = self.split(key)
        return region_titles().get(name, name.replace("-", " "))

    def with_unions(self, unions: Mapping[str, Iterable[str]]) -> "RegionSet":
        """The same set with more unions."""
        return RegionSet((*self.unions, *((name, tuple(parts)) for name, parts in unions.items())))


@cache
def shipped_regions() -> RegionSet:
    """The atlas and the unions of the reference table."""
    return RegionSet().with_unions(Unions.from_yaml(TABLE).unions)


def read_regions(own: Path | None) -> RegionSet:
    """The shipped regions and a clinic's own unions.

    Parameters
    ----------
    own : Path | None
        The clinic's `regions.yaml`, if it has one.

    Raises
    ------
    InvalidFileError
        A union that is named like a shipped one, or breaks another rule.
    """
    shipped = shipped_regions()
    if own is None:
        return shipped
    unions = Unions.from_yaml(own).unions
    twice = [name for name in unions if name in shipped.parts]
    if twice:
        raise InvalidFileError(
            own.name, [f"unions.{name}: there is one of this name already" for name in twice]
        )
    return shipped.with_unions(unions)
