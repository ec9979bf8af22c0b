"""Sentences of the evidence page: `templates/evidence.yaml`."""

from functools import cache
from typing import Literal

from aftersit.closed import Closed
from aftersit.pages.style import TEMPLATES


class LimitText(Closed):
    """What can't be told: a name, and a sentence with measured figures."""

    name: str
    sentence: str


class Item(Closed):
    """An item of a reporting checklist.

    Attributes
    ----------
    id, item : str
        Number there, and the item in our own words.
    state : str
        `report`: a page or record states it; `archive`: the archive does; `sheet`: where
        the practitioner wrote it on the sheet; `part`; `no`: nothing here can.
    where : str
        Where it stands, or why not.
    """

    id: str
    item: str
    state: Literal["report", "archive", "sheet", "part", "no"]
    where: str


class Checklist(Closed):
    """A published checklist."""

    title: str
    source: str
    note: str
    items: tuple[Item, ...]


class Texts(Closed):
    """The whole file."""

    limits: dict[str, LimitText]
    checklists: tuple[Checklist, ...]


@cache
def texts() -> Texts:
    """The file, checked."""
    return Texts.from_yaml(TEMPLATES / "evidence.yaml")
