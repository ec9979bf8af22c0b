"""Times of blocks that are written with a dot, as `02.30`: minutes to some, seconds to others."""

import re
from collections.abc import Iterator
from pathlib import Path

import yaml

from aftersit.intake.problems import Problem
from aftersit.plain_yaml import MAX_BYTES

_DOTTED = re.compile(r"(\d{1,3})\.([0-5]\d)")


def dotted_times(path: Path, where: str) -> list[Problem]:
    """One problem for each start or end that reads like minutes and seconds with a dot.

    Parameters
    ----------
    path : Path
        A sheet; what is wrong with it otherwise is not looked for.
    where : str
        How problems name the file.
    """
    data = path.read_bytes()[:MAX_BYTES]
    try:
        # As a tree of what was written: as a number, 02.30 would be 2.3.
        root = yaml.compose(data.decode("utf-8-sig"), Loader=yaml.SafeLoader)
    except (yaml.YAMLError, UnicodeDecodeError, RecursionError):
        return []
    return [
        _problem(f"{where}: blocks.{number}.{key}", match)
        for number, block in enumerate(_items(_value(root, "blocks")), 1)
        for key in ("start", "end")
        if (match := _DOTTED.fullmatch(_text(_value(block, key))))
    ]


def _problem(place: str, match: re.Match) -> Problem:
    minutes, seconds = match.groups()
    return Problem(
        "dotted-time",
        place,
        f"found {match[0]}, which may be minutes and seconds, or seconds with decimals",
        f'write "{int(minutes):02d}:{seconds}" if it is minutes and seconds; '
        f"if it is seconds, write {match[0]}0",
    )


def _value(node: yaml.Node | None, key: str) -> yaml.Node | None:
    pairs = node.value if isinstance(node, yaml.MappingNode) else ()
    return next((value for name, value in pairs if _text(name) == key), None)


def _items(node: yaml.Node | None) -> Iterator[yaml.Node]:
    yield from node.value if isinstance(node, yaml.SequenceNode) else ()


def _text(node: yaml.Node | None) -> str:
    return node.value if isinstance(node, yaml.ScalarNode) else ""
