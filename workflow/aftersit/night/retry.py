"""Send a corrected set-aside upload again."""

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.inbox import move

REASONS = ("why.json", "why.txt")


def send_again(clinic: Clinic, name: str) -> str:
    """Move `set-aside/<name>` back to the inbox, without the reasons.

    Raises
    ------
    AftersitError
        Nothing of that name is set aside, or the inbox has one already.
    """
    source, target = clinic.set_aside / name, clinic.inbox / name
    known = sorted(p.name for p in clinic.set_aside.glob("*")) if clinic.set_aside.is_dir() else []
    if name not in known:
        raise AftersitError(
            f"nothing is set aside as '{name}'; set aside: {', '.join(known) or 'none'}"
        )
    if target.exists():
        raise AftersitError(f"the inbox already holds '{name}'; rename one of the two")
    for reason in REASONS:
        (source / reason).unlink(missing_ok=True)
    move(source, target)
    return f"{name} is back in the inbox; the next night takes it up (or run `nightly` now)"
