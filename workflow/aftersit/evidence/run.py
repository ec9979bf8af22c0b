"""Run the checks and gather what the page says."""

import tempfile
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path

from aftersit.errors import AftersitError
from aftersit.evidence.check import Check, all_checks
from aftersit.evidence.given import Given
from aftersit.evidence.limits import limits
from aftersit.evidence.page import Evidence, Outcome
from aftersit.evidence.result import NotRunError, Result
from aftersit.pages.software import software

BENCH = Path(__file__).parents[3] / "bench"

Say = Callable[[str], None]


def gather(open_data: Path | None, with_faults: bool, say: Say) -> Evidence:
    """All evidence that can be had on this machine.

    Parameters
    ----------
    open_data : Path or None
        Folder of open recordings.
    with_faults : bool
        Whether the deliberate faults are tried as well; takes minutes.
    say : callable
        Gets a line for each group.

    Raises
    ------
    AftersitError
        The folder of open recordings holds none.
    """
    if open_data is not None and not any(open_data.rglob("*.edf")):
        raise AftersitError(
            f"no recording (.edf) lies under {open_data}; give the folder that does"
        )
    with tempfile.TemporaryDirectory() as scratch:
        given = Given(Path(scratch), open_data)
        outcomes = list(run_checks(all_checks(), given, say))
        effects = given.open_results.effects() if open_data is not None else ()
        told = limits(given, BENCH)
    faults = None
    if with_faults:
        from aftersit.evidence.faults import try_all

        faults = try_all(say)
    return Evidence(outcomes, told, effects, faults, software())


def run_checks(checks: Iterable[Check], given: Given, say: Say) -> Iterable[Outcome]:
    """Run each check; one that breaks is one that fails."""
    group = None
    for one in checks:
        if one.group != group:
            group = one.group
            say(f"checking: {group}")
        outcome = run_one(one, given)
        if outcome.state == "FAILS":
            say(f"  FAILS {one.id}: expected {outcome.result.expected}, "
                f"measured {outcome.result.measured}")  # fmt: skip
        yield outcome


def run_one(one: Check, given: Given) -> Outcome:
    """Run one check."""
    why_not = one.missing(given)
    if why_not:
        return Outcome(one, None, why_not)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return Outcome(one, one.run(given))
    except NotRunError as error:
        return Outcome(one, None, f"not run: {error}")
    except Exception as error:  # a check that breaks says as much as one that fails
        name = type(error).__name__
        return Outcome(one, Result("a result", "none", f"it broke off ({name})", False, False))
