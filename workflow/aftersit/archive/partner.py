"""What the clinic agreed with one research partner: `partners/<partner>.yaml`."""

import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.patterns import NAME_PATTERN
from aftersit.sheet import Day

Dates = Literal["none", "shifted"]
Line = Annotated[str, Field(min_length=1, max_length=300)]


class Partner(Closed):
    """Settings for one partner; the texts are printed in the bag as they stand."""

    title: Line
    """Of the data set."""
    licence: Line
    """Name of the licence or agreement, for example `CC-BY-NC-4.0`."""
    licence_text: Annotated[str, Field(min_length=20, max_length=40_000)]
    """What goes into the LICENSE files."""
    authors: Annotated[tuple[Line, ...], Field(min_length=1)]
    """For the citation; a person as `Family, Given`, an organisation without a comma."""
    dates: Dates = "none"
    """`none`: day numbers alone. `shifted`: dates moved by a secret number of days, for
    partners who signed an agreement on the use of the data."""
    agreement: Line | None = None
    """What that agreement is called."""
    k: Annotated[int, Field(ge=2, le=100)] = 5
    """Smallest number of people who must be alike in age group, sex, handedness and practice."""
    without: tuple[Literal["age", "sex", "handedness"], ...] = ()
    """Traits that are not handed over, so that more people are alike."""
    published: Day | None = None
    """The day that the bag gives as its own; left out, it gives the year of
    the export alone: days of export say between which days a new sitting lies."""

    @model_validator(mode="after")
    def _shifted_dates_need_an_agreement(self):
        if self.dates == "shifted" and not self.agreement:
            raise ValueError("dates: shifted needs `agreement`, since a shifted date is a date")
        return self


def partner_path(clinic: Clinic, name: str) -> Path:
    """Where a partner's settings lie."""
    return clinic.root / "partners" / f"{name}.yaml"


def read_partner(clinic: Clinic, name: str) -> Partner:
    """Read a partner's settings.

    Raises
    ------
    AftersitError
        There are none, or they break a rule.
    """
    if not re.fullmatch(NAME_PATTERN, name):
        raise AftersitError(
            f"'{name}' can't name a partner: small letters, digits and hyphens, a letter first"
        )
    path = partner_path(clinic, name)
    if not path.is_file():
        raise AftersitError(
            f"partners/{name}.yaml is missing; it says title, licence, licence_text and authors"
        )
    return Partner.from_yaml(path, f"partners/{name}.yaml")
