"""One line for each error of a closed model: place, value found, what is allowed."""

import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import get_args

from pydantic import BaseModel

from aftersit.patterns import IN_WORDS

_ECHO_AT_MOST = 40


def error_lines(errors: list[dict], model: type[BaseModel], data: object) -> list[str]:
    """Say pydantic's errors; a list that is short because an item is wrong is not said to be."""
    wrong = [error["loc"] for error in errors]
    return [
        error_line(error, model, data)
        for error in errors
        if error["type"] != "too_short" or not _inside(error["loc"], wrong)
    ]


def _inside(place: tuple, others: list[tuple]) -> bool:
    return any(len(other) > len(place) and other[: len(place)] == place for other in others)


def error_line(error: dict, model: type[BaseModel], data: object) -> str:
    """Say one pydantic error in the user's words.

    Parameters
    ----------
    error : dict
        One of `ValidationError.errors()`.
    model : type of BaseModel
        The model that was checked.
    data : object
        What was checked; only its keys are read, to tell places from pydantic's own labels.
    """
    parts = list(_places(error["loc"], data))
    place = ".".join(parts) or "file"
    if error["type"] == "extra_forbidden":
        return f"{_short(place)}: unknown key{_allowed_keys(model, parts)}"
    if error["type"] == "missing":
        return f"{place}: missing"
    value = None if _is_private(model, parts) else error["input"]
    if error["type"] == "one_of" and isinstance(value, dict):
        return f"{place}: {_other_keys(value, error)}"
    found = _found(value) if value is not None or error["input"] is None else ""
    return f"{place}: {found}{_rule(error, value)}"


def _other_keys(group: dict, error: dict) -> str:
    """A group none of whose keys says which kind it is."""
    allowed = re.findall(r"(\w+): \.\.\.", error["msg"])
    keys = [str(key) for key in group][:3]
    near = next((n for key in keys for n in get_close_matches(key, allowed, n=1, cutoff=0.5)), None)
    found = f"found the key {', '.join(map(_short, keys))}" if keys else "found no key"
    return f"{found}{f'; did you mean {near!r}?' if near else ''}; {error['msg']}"


def _places(location: tuple, data: object) -> Iterator[str]:
    """The parts of a location that the user wrote; list items count from 1."""
    by_key = False
    for number, part in enumerate(location):
        rest = location[number + 1 :]
        if isinstance(part, int) and isinstance(data, list | tuple):
            data, by_key = data[part] if part < len(data) else None, False
            yield str(part + 1)
        elif not isinstance(data, dict) or part == "[key]":
            continue
        elif (part in data or not rest) and not (by_key and _is_kind(part, rest, data)):
            data, by_key = data.get(part), True
            yield str(part)


def _is_kind(part: object, rest: tuple, data: dict) -> bool:
    """Whether a part is no key but the kind of a group that one of its keys tells.

    Then a key of the same group comes next.
    """
    if not rest or rest[0] not in data:
        return False
    within = data.get(part)
    return rest[0] == part or not (isinstance(within, dict) and rest[0] in within)


def _allowed_keys(model: type[BaseModel], parts: list[str]) -> str:
    inner = _inner_model(model, parts[:-1])
    if inner is None:
        return ""
    allowed = sorted(inner.model_fields)
    near = get_close_matches(parts[-1], allowed, n=1)
    hint = f"; did you mean '{near[0]}'?" if near else ""
    return f"{hint}; allowed: {', '.join(allowed)}"


def _inner_model(model: type[BaseModel], parts: list[str]) -> type[BaseModel] | None:
    """The model at a place; None where it is not one model only."""
    for part in parts:
        if part.isdigit():
            continue
        field = model.model_fields.get(part)
        inner = set(_models_in(field.annotation)) if field else set()
        if len(inner) != 1:
            return None
        model = inner.pop()
    return model


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)


def _is_private(model: type[BaseModel], parts: list[str]) -> bool:
    """Whether a place holds what must not be repeated: a code or free text."""
    for depth in range(len(parts)):
        inner = _inner_model(model, parts[:depth])
        if inner is not None and parts[depth] in getattr(inner, "PRIVATE", ()):
            return True
    return False


def _found(value: object) -> str:
    """Repeat short plain values only: longer ones may be someone's notes."""
    if value is None:
        return "found nothing; "
    if isinstance(value, str) and len(value) > _ECHO_AT_MOST:
        return f"found a text of {len(value)} characters; "
    if isinstance(value, str | int | float | bool):
        return f"found {value!r}; "
    return ""


def _rule(error: dict, value: object) -> str:
    """What is allowed; `value` is None where it must not be repeated."""
    kind, context = error["type"], error.get("ctx", {})
    if kind in ("enum", "literal_error"):
        quoted = re.sub(r" or (?=[^,]*$)", ", ", context["expected"])
        return "allowed: " + quoted.replace("'", "")
    if kind == "string_pattern_mismatch":
        return IN_WORDS.get(context["pattern"], f"must match the pattern {context['pattern']}")
    if kind in ("tuple_type", "list_type"):
        return _as_list(value)
    if kind in ("too_short", "too_long"):
        most = "at least" if kind == "too_short" else "at most"
        count = context["min_length" if kind == "too_short" else "max_length"]
        return f"{most} {count} item{'s' * (count != 1)}, not {context['actual_length']}"
    if kind in _NUMBERS and isinstance(value, str) and _COMMA.fullmatch(value):
        return f"in a number write a point, not a comma: {value.replace(',', '.')}"
    if kind in _NEEDED:
        return _NEEDED[kind]
    message = error["msg"].removeprefix("Value error, ").removeprefix("Input ")
    return message[:1].lower() + message[1:]


_COMMA = re.compile(r"[-+]?\d+,\d+")
_NUMBERS = ("float_parsing", "int_parsing")
_GROUP = "a group of `key: value` lines is needed"
_NEEDED = {
    "string_type": "text is needed; put a number in quotes to make it text",
    "model_type": _GROUP,
    "dict_type": _GROUP,
    "float_type": "a number is needed",
    "float_parsing": "a number is needed",
    "int_type": "a whole number is needed",
    "int_parsing": "a whole number is needed",
    "int_from_float": "a whole number is needed",
    "bool_type": "write true or false",
    "bool_parsing": "write true or false",
}
"""Kinds of errors whose words in pydantic are for programmers."""


def _as_list(value: object) -> str:
    """How the value that was found is written as a list."""
    text = value if isinstance(value, str) else str(value) if isinstance(value, int | float) else ""
    items = re.fullmatch(r"([\d.]+)\s*[-–]\s*([\d.]+)", text)
    parts = items.groups() if items else [part for part in re.split(r"[\s,]+", text) if part]
    if not parts or len(text) > _ECHO_AT_MOST:
        return "a list is needed; write [one, two]"
    return f"a list is needed; write [{', '.join(parts)}]"


def _short(place: str) -> str:
    return place if len(place) <= 2 * _ECHO_AT_MOST else place[: 2 * _ECHO_AT_MOST] + "..."
