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
    found = _found(error["input"]) if not _is_private(model, parts) else ""
    return f"{place}: {found}{_rule(error)}"


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


def _rule(error: dict) -> str:
    kind, context = error["type"], error.get("ctx", {})
    if kind in ("enum", "literal_error"):
        quoted = re.sub(r" or (?=[^,]*$)", ", ", context["expected"])
        return "allowed: " + quoted.replace("'", "")
    if kind == "string_type":
        return "text is needed; put a number in quotes to make it text"
    if kind == "string_pattern_mismatch":
        return IN_WORDS.get(context["pattern"], f"must match the pattern {context['pattern']}")
    if kind == "model_type":
        return "a group of `key: value` lines is needed"
    message = error["msg"].removeprefix("Value error, ").removeprefix("Input ")
    return message[:1].lower() + message[1:]


def _short(place: str) -> str:
    return place if len(place) <= 2 * _ECHO_AT_MOST else place[: 2 * _ECHO_AT_MOST] + "..."
