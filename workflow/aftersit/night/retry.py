"""Send a corrected set-aside upload again."""

import os
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.intake.problems import Problem
from aftersit.names import shown
from aftersit.night.ledger import Ledger
from aftersit.night.moving import Mover
from aftersit.night.session import at_work


def send_again(clinic: Clinic, name: str) -> str:
    """Move `set-aside/<name>` back to the inbox, without the reasons.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    name : str
        The folder's name, or how `why.txt` writes it; with or without `set-aside/` before it.

    Raises
    ------
    AftersitError
        Nothing of that name is set aside, or the inbox has one already.
    AlreadyRunningError
        A night is running.
    """
    clinic.read_settings()
    with at_work(clinic):
        kept = _set_aside(clinic, name)
        name = kept.name
        target = clinic.inbox / kept.name
        if os.path.lexists(target):
            raise AftersitError(f"the inbox already holds '{shown(name)}'; rename one of the two")
        Mover(clinic, Ledger(clinic)).send_back(kept, target)
    return f"{shown(name)} is back in the inbox; the next night takes it up (or run `nightly` now)"


def still_wrong(clinic: Clinic, name: str) -> tuple[Problem, ...]:
    """What the next night would refuse an upload for, if it were sent again as it lies there.

    Raises
    ------
    AftersitError
        Nothing of that name is set aside.
    """
    from aftersit.night.run import receiver

    receiving, upload = receiver(clinic), _set_aside(clinic, name)
    finding = receiving.check(upload)
    if finding.accepted is None:
        return finding.problems
    problem = receiving.decide(upload, finding.accepted).problem
    return (problem,) if problem else ()


def _set_aside(clinic: Clinic, name: str) -> Path:
    """The folder under `set-aside/`; AftersitError when there is none of that name."""
    if Path(name).parent.name == clinic.set_aside.name:
        name = Path(name).name
    known = sorted(p for p in clinic.set_aside.glob("*") if not p.name.startswith("."))
    kept = next((p for p in known if name in (p.name, shown(p.name))), None)
    if kept is None:
        there = ", ".join(shown(p.name) for p in known) or "none"
        raise AftersitError(f"nothing is set aside as '{shown(name)}'; set aside: {there}")
    return kept
