"""Closed models: unknown keys are errors, and errors speak to the user."""

from pathlib import Path
from typing import ClassVar, Self

from pydantic import BaseModel, ConfigDict, ValidationError

from aftersit.error_lines import error_lines
from aftersit.errors import AftersitError, InvalidFileError
from aftersit.plain_yaml import load_plain_yaml


class Closed(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    PRIVATE: ClassVar[frozenset[str]] = frozenset()
    """Fields whose value an error must not repeat: client codes and free text."""

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
    def from_own_json(cls, path: Path, where: str, or_else: str = "") -> Self:
        """Read a file that the program wrote itself; AftersitError where it is damaged.

        `where` is how the error names the file, and `or_else` what else to do than to put
        it back. What stands in it is not told: it may hold names of uploads.
        """
        try:
            return cls.model_validate_json(path.read_bytes())
        except ValidationError:
            raise AftersitError(f"{where} is damaged; put it back from a backup{or_else}") from None

    @classmethod
    def checked(cls, data: dict, where: str) -> Self:
        """Check plain data; see `from_yaml`."""
        try:
            return cls.model_validate(data)
        except ValidationError as error:
            raise InvalidFileError(where, error_lines(error.errors(), cls, data)) from None
