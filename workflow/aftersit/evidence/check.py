"""A check: what it is, what it rests on, and the function that measures."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Literal

from aftersit.evidence.facts import Fact, facts
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result

GROUPS = {
    "formats": "Recording formats",
    "bids": "BIDS",
    "power": "Band power",
    "filters": "Filters and causality",
    "head": "Head model",
    "inverse": "Inverse",
    "cleaning": "Cleaning and muscle",
    "replay": "Replay statistics",
    "recordings": "Open recordings",
    "language": "Language and accessibility",
    "archive": "Archive",
}
"""Key -> title, in the order of the page."""

Group = Literal[
    "formats", "bids", "power", "filters", "head", "inverse", "cleaning", "replay",
    "recordings", "language", "archive",
]  # fmt: skip

Measure = Callable[[Given, Fact], Result]


@dataclass(frozen=True)
class Check:
    """One check.

    Attributes
    ----------
    id : str
        Short, with its group in front: `power.white-noise`.
    group : str
        A key of `GROUPS`.
    what : str
        One sentence.
    fact : str
        Key in `shared/facts.yaml`.
    needs : tuple of str
        Modules beyond the locked run-time packages (they come with the tests).
    measure : callable
        Measures; it gets what checks share, and the fact.
    """

    id: str
    group: Group
    what: str
    fact: str
    needs: tuple[str, ...]
    measure: Measure

    def missing(self, given: Given) -> str | None:
        """Why it can't be run here; None when it can."""
        absent = [name for name in self.needs if not _is_there(name)]
        if absent:
            return f"not run: needs the package {', '.join(absent)}, which comes with the tests"
        if self.group == "recordings" and given.open_data is None:
            return "not run: needs the folder of open recordings (--open-data)"
        return None

    def run(self, given: Given) -> Result:
        """Measure."""
        return self.measure(given, facts().facts[self.fact])


def _is_there(name: str) -> bool:
    try:
        return find_spec(name) is not None
    except ModuleNotFoundError:
        return False


_REGISTRY: dict[str, Check] = {}


def check(
    group: Group, name: str, what: str, fact: str | None = None, needs: tuple[str, ...] = ()
) -> Callable[[Measure], Measure]:
    """Register a function as a check; its fact has the check's name unless another is given."""

    def add(measure: Measure) -> Measure:
        one = Check(f"{group}.{name}", group, what, fact or name, needs, measure)
        if one.id in _REGISTRY:
            raise ValueError(f"two checks are called {one.id}")
        _REGISTRY[one.id] = one
        return measure

    return add


def all_checks() -> tuple[Check, ...]:
    """Every check, by group in the page's order."""
    import aftersit.evidence.checks  # noqa: F401  (registers)

    order = list(GROUPS)
    return tuple(sorted(_REGISTRY.values(), key=lambda c: order.index(c.group)))
