"""Closed models: unknown keys are errors, and errors speak to the user."""

from difflib import get_close_matches
from pathlib import Path
from typing import Self

from pydantic import BaseModel, ConfigDict, ValidationError

from aftersit.errors import InvalidFileError
from aftersit.plain_yaml import load_plain_yaml


class Closed(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def from_yaml(cls, path: Path, where: str | None = None) -> Self:
        """Read and check a YAML file.

        Raises
        ------
        InvalidFileError
            One line for each problem: place, value found, what is allowed.
        """
        where = where or path.name
        return cls.checked(load_plain_yaml(path, where), where)

    @classmethod
    def checked(cls, data: dict, where: str) -> Self:
        """Check plain data; see `from_yaml`."""
        try:
            return cls.model_validate(data)
        except ValidationError as error:
            raise InvalidFileError(where, [_line(e, cls) for e in error.errors()]) from None


def _line(error: dict, model: type[BaseModel]) -> str:
    place = ".".join(str(part) for part in error["loc"]) or "file"
    if error["type"] == "extra_forbidden":
        key = str(error["loc"][-1])
        allowed = sorted(model.model_fields) if len(error["loc"]) == 1 else []
        near = get_close_matches(key, allowed, n=1)
        hint = f"; did you mean '{near[0]}'?" if near else ""
        known = f"; allowed: {', '.join(allowed)}" if allowed else ""
        return f"{place}: unknown key{hint}{known}"
    if error["type"] == "missing":
        return f"{place}: missing"
    message = error["msg"].removeprefix("Value error, ")
    return f"{place}: found {error['input']!r}; {message}"
