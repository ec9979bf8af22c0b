"""The evidence as a page and as a table for programs."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from aftersit.bids.tables import tsv
from aftersit.evidence.check import GROUPS, Check, all_checks
from aftersit.evidence.facts import facts
from aftersit.evidence.fault_table import FaultTable
from aftersit.evidence.limits import Limit
from aftersit.evidence.open_effects import Effect
from aftersit.evidence.result import Result
from aftersit.evidence.texts import texts
from aftersit.files import write_atomically
from aftersit.pages.format import MINUS, SPACE
from aftersit.pages.template import render

TITLE = "How do you know?"
COLUMNS = (
    "id",
    "group",
    "what",
    "source",
    "kind",
    "expected",
    "tolerance",
    "measured",
    "result",
    "number",
)

STATES = {
    "report": "report or record",
    "archive": "archive",
    "sheet": "sitting sheet",
    "part": "in part",
    "no": "not here",
}


@dataclass(frozen=True)
class Outcome:
    """A check with what it found, or why it was not run."""

    check: Check
    result: Result | None
    why_not: str = ""

    @property
    def state(self) -> str:
        """`pass`, `FAILS` or `not run`."""
        if self.result is None:
            return "not run"
        return "pass" if self.result.passed else "FAILS"

    @property
    def cells(self) -> tuple[str, ...]:
        """As in the table, see `COLUMNS`."""
        one, fact = self.check, facts().facts[self.check.fact]
        found = self.result or Result("", "", self.why_not, False, False)
        number = "yes" if found.number else "no"
        told = (found.expected, found.tolerance, found.measured, self.state, number)
        cited = (one.id, one.group, one.what, facts().cited(one.fact), fact.kind)
        return tuple(" ".join(cell.split()) for cell in (*cited, *told))


@dataclass(frozen=True)
class Evidence:
    """All that stands on the page.

    Attributes
    ----------
    outcomes : sequence of Outcome
    limits : sequence of Limit
    effects : sequence of Effect
        Of open recordings; empty without them.
    faults : FaultTable, optional
    software : dict
        Package -> version.
    """

    outcomes: Sequence[Outcome]
    limits: Sequence[Limit]
    effects: Sequence[Effect] = ()
    faults: FaultTable | None = None
    software: dict[str, str] = field(default_factory=dict)

    @property
    def failed(self) -> list[Outcome]:
        """What does not hold."""
        return [o for o in self.outcomes if o.state == "FAILS"]


def counts(outcomes: Sequence[Outcome]) -> dict[str, int]:
    """Figures for the head of the page."""
    used = [facts().facts[o.check.fact] for o in outcomes]
    run = [o for o in outcomes if o.result is not None]
    return {
        "checks": len(outcomes),
        "passed": sum(o.state == "pass" for o in outcomes),
        "failed": sum(o.state == "FAILS" for o in outcomes),
        "not run": len(outcomes) - len(run),
        "sources": len({f.source for f in used if f.source}),
        "with numbers": sum(o.result.number for o in run),
        "common practice": sum(f.kind.startswith("common") for f in used),
        "from memory": sum(f.kind == "from memory" for f in used),
    }


def write_page(evidence: Evidence, folder: Path) -> Path:
    """Write `validation.html` and `validation.tsv`; returns the page's path."""
    write_atomically(folder / "validation.tsv", tsv(COLUMNS, [o.cells for o in evidence.outcomes]))
    path = folder / "validation.html"
    write_atomically(path, html(evidence))
    return path


def html(evidence: Evidence) -> str:
    """The page, self-contained."""
    return render(
        "validation.html",
        "screen",
        language="en",
        title=TITLE,
        footer=TITLE,
        counts=counts(evidence.outcomes),
        groups=[(GROUPS[key], key, _rows(evidence, key)) for key in GROUPS],
        limits=[replace(one, sentence=_printed(one.sentence)) for one in evidence.limits],
        checklists=texts().checklists,
        states=STATES,
        effects=[_effect_printed(one) for one in evidence.effects],
        faults=evidence.faults,
        software=evidence.software,
    )


_SIGNS = (("uV", "µV"), ("^2", "²"), (" sigma", " σ"), ("(2 pi tau)", "(2πτ)"))
_NEGATIVE = re.compile(r"(?<![\w.)])-(?=\d)")
_UNIT = re.compile(r"(?<=\d) (?=(?:%|dB|Hz|ms|s|mm|cm|[µu]V|points)(?![A-Za-z]))")


def _printed(text: str) -> str:
    """With the signs that a page can show and a table for programs need not."""
    for plain, sign in _SIGNS:
        text = text.replace(plain, sign)
    return _UNIT.sub(SPACE, _NEGATIVE.sub(MINUS, text))


def _effect_printed(one: Effect) -> Effect:
    people = tuple((person, _printed(value)) for person, value in one.people)
    return replace(one, people=people, group=_printed(one.group))


def _rows(evidence: Evidence, group: str) -> list[dict[str, str]]:
    return [
        dict(zip(COLUMNS, map(_printed, outcome.cells), strict=True))
        for outcome in evidence.outcomes
        if outcome.check.group == group
    ]


def sample() -> str:
    """The page with nothing run, for checks of its own structure."""
    nothing = [Outcome(one, None, "not run") for one in all_checks()]
    return html(Evidence(nothing, [Limit("A limit", "A sentence.", "a basis")]))
