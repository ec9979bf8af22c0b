"""Read YAML written by people: plain data only, and every surprise an error."""

import contextlib
import re
from pathlib import Path

import yaml

from aftersit.errors import InvalidFileError, NotUtf8Error
from aftersit.yaml_words import PlainError, yaml_words

MAX_BYTES = 1_000_000


class _Plain:
    """No tags, no aliases, no repeated keys, no YAML 1.1 oddities."""

    def compose_node(self, parent, index):
        event = self.peek_event()
        if isinstance(event, yaml.events.AliasEvent):
            raise PlainError(problem="aliases (*) are not allowed", problem_mark=event.start_mark)
        if getattr(event, "tag", None) is not None:
            raise PlainError(problem="tags (!) are not allowed", problem_mark=event.start_mark)
        return super().compose_node(parent, index)

    def construct_mapping(self, node, deep=False):
        seen = set()
        for key_node, _ in node.value:
            key = self.construct_object(key_node, deep=True)
            if not isinstance(key, str):
                problem = _no_key(key, key_node.value)
                raise PlainError(problem=problem, problem_mark=key_node.start_mark)
            if key in seen:
                raise PlainError(
                    problem=f"the key '{key}' stands twice", problem_mark=key_node.start_mark
                )
            seen.add(key)
        return super().construct_mapping(node, deep)


def _no_key(key: object, text: object) -> str:
    if isinstance(key, int | float) and not isinstance(key, bool):
        return f"{text} stands where a key is needed; in a number write a point, not a comma"
    return f"the key {text if isinstance(text, str) else ''} is not text; put it in quotes"


class _PlainLoader(_Plain, yaml.SafeLoader):
    """Its errors are those that people are told."""


# YAML 1.1 reads `no` as false, `12:30` as 750 and `2026-03-14` as a date; here
# they stay the text that was written.
_PlainLoader.yaml_implicit_resolvers = {
    first: [
        (tag, regexp)
        for tag, regexp in resolvers
        if not tag.endswith((":bool", ":timestamp", ":int", ":float"))
    ]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
for _tag, _pattern, _first in (
    ("bool", r"^(?:true|false|True|False)$", "tfTF"),
    ("int", r"^[-+]?[0-9]+$", "-+0123456789"),
    ("float", r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$", "-+.0123456789"),
):
    _PlainLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), list(_first)
    )


def _fast_loader() -> type:
    """The same on libyaml's parser, which needs an eighth of the time."""
    from yaml.composer import Composer
    from yaml.constructor import SafeConstructor
    from yaml.cyaml import CParser
    from yaml.resolver import Resolver

    class FastLoader(_Plain, Composer, CParser, SafeConstructor, Resolver):
        yaml_implicit_resolvers = _PlainLoader.yaml_implicit_resolvers

        def __init__(self, stream):
            CParser.__init__(self, stream)
            for part in (Composer, SafeConstructor, Resolver):
                part.__init__(self)

    return FastLoader


_FastLoader = _fast_loader() if yaml.__with_libyaml__ else _PlainLoader


def load_plain_yaml(path: Path, where: str | None = None) -> dict:
    """Read one mapping from a YAML file.

    Parameters
    ----------
    path : Path
        The file.
    where : str | None
        How errors name the file; the file's name when None.

    Returns
    -------
    dict
        Text, numbers, booleans, lists and mappings with text keys.

    Raises
    ------
    InvalidFileError
        Not UTF-8, too large, not YAML, or more than plain data.
    """
    where = where or path.name
    data = path.read_bytes()
    if len(data) > MAX_BYTES:
        raise InvalidFileError(where, [f"{len(data)} bytes; at most {MAX_BYTES} are allowed"])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotUtf8Error(where, data.count(b"\n", 0, error.start) + 1) from None
    return parse_plain_yaml(text, where)


def parse_plain_yaml(text: str, where: str) -> dict:
    """Read one mapping from YAML text; see `load_plain_yaml`."""
    try:
        value = _loaded(text)
    except (yaml.MarkedYAMLError, yaml.reader.ReaderError, RecursionError, ValueError) as error:
        raise InvalidFileError(where, [yaml_words(error)]) from None
    if not isinstance(value, dict):
        raise InvalidFileError(where, ["the file must hold `key: value` lines"])
    return value


def _loaded(text: str) -> object:
    """What the text says; where something is wrong, the slower loader says what.

    libyaml lets tabs pass where they are an error.
    """
    if "\t" not in text:
        with contextlib.suppress(yaml.YAMLError, RecursionError, ValueError):
            return yaml.load(text, Loader=_FastLoader)
    return yaml.load(text, Loader=_PlainLoader)
