"""The published facts that checks rest on: `shared/facts.yaml`, each once, with its source."""

from functools import cache
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, model_validator

from aftersit.closed import Closed

TABLE = Path(__file__).parents[3] / "shared" / "facts.yaml"

Kind = Literal["published", "common practice, no source", "from memory"]


class Source(Closed):
    """A publication, a standard, a library with its paper, or an open data set."""

    cite: str
    where: str | None = None


class Fact(Closed):
    """One fact.

    Attributes
    ----------
    says : str
        In our own words.
    source : str
        Key among the sources; None with `kind` common practice.
    where : str
        Table, section, item, equation or function there.
    kind : str
        `from memory` when nobody of the project has seen the text itself.
    values : dict
        What checks compare with; units in the names.
    """

    says: str
    source: str | None = None
    where: str = ""
    kind: Kind = "published"
    values: dict[str, Any] = Field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.values[name]


class Facts(Closed):
    """Both tables."""

    sources: dict[str, Source]
    facts: dict[str, Fact]

    @model_validator(mode="after")
    def _known(self):
        for key, fact in self.facts.items():
            practice = fact.kind == "common practice, no source"
            if practice != (fact.source is None):
                raise ValueError(f"fact {key}: a source, or common practice, and not both")
            if fact.source is not None and fact.source not in self.sources:
                raise ValueError(f"fact {key}: unknown source {fact.source}")
        return self

    def cited(self, key: str) -> str:
        """Where a fact comes from, in one line."""
        fact = self.facts[key]
        if fact.source is None:
            return fact.kind
        parts = [self.sources[fact.source].cite, fact.where]
        line = ", ".join(part for part in parts if part)
        return f"{line} (from memory)" if fact.kind == "from memory" else line


@cache
def facts() -> Facts:
    """The table, checked."""
    return Facts.from_yaml(TABLE)
