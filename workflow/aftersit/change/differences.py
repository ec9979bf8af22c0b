"""What differs between two versions of a file, one line for each key."""

from collections.abc import Mapping

_LONGEST = 60


def differences(before: object, after: object, place: str = "") -> list[str]:
    """Lines `key.key: before -> after`; parts of a list go by their `name`, else by number.

    Examples
    --------
    >>> differences({"a": {"b": 1.5}, "c": 2}, {"a": {"b": 2.5}})
    ['a.b: 1.5 -> 2.5', 'c: 2 -> not there']
    """
    old, new = _parts(before), _parts(after)
    if old is None or new is None:
        return [] if before == after else [f"{place}: {_shown(before)} -> {_shown(after)}"]
    lines = []
    for key in dict.fromkeys([*old, *new]):
        inner = f"{place}.{key}" if place else key
        lines += differences(old.get(key, _ABSENT), new.get(key, _ABSENT), inner)
    return lines


_ABSENT = type("Absent", (), {"__repr__": lambda _: "not there"})()


def _parts(value: object) -> dict | None:
    """The value's parts by their key; None for a value without parts."""
    if isinstance(value, Mapping):
        return {str(key): inner for key, inner in value.items()}
    if isinstance(value, list) and any(isinstance(inner, Mapping) for inner in value):
        return {str(_name(inner, n)): inner for n, inner in enumerate(value, 1)}
    return None


def _name(inner: object, number: int) -> object:
    return inner.get("name", number) if isinstance(inner, Mapping) else number


def _shown(value: object) -> str:
    text = "none" if value is None else str(value)
    return text if len(text) <= _LONGEST else "(another text)"
