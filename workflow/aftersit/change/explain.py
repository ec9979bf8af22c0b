"""Where the numbers of a record come from, in lines for a person."""

from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

from aftersit.change.again import make_again
from aftersit.change.chain import STAGES, Chain, chains, used
from aftersit.clinic import Clinic
from aftersit.night.session import at_work

Say = Callable[[str], None]
_USES_SEED = ("clean_recording", "measure_regions", "replay_protocol")
_PACKAGES = ("aftersit", "mne", "numpy", "scipy", "onnxruntime")


def explain(clinic: Clinic, what: Path, crate: Path | None, again: bool, say: Say) -> int:
    """Print the chains of a record; returns 1 when something is not as it was.

    Parameters
    ----------
    what : Path
        A `record.json`, or `CLIENT/NUMBER` for those in force.
    crate : Path or None
        Also write each as an RO-Crate; several go into folders of their own.
    again : bool
        Also make it again and compare.

    Raises
    ------
    AftersitError
        No such record.
    AlreadyRunningError
        A night is running, and `again` was asked for.
    """
    clinic.read_settings()
    found, wrong = chains(clinic, what), 0
    for chain in found:
        for line in lines(chain):
            say(line)
        wrong += bool(chain.changed())
        if crate:
            from aftersit.change.crate import write_crate

            folder = crate if len(found) == 1 else crate / chain.protocol
            write_crate(chain, folder)
            say(f"as an RO-Crate: {folder}")
        if again:
            wrong += _say_again(chain, say)
    return int(wrong > 0)


def _say_again(chain: Chain, say: Say) -> bool:
    with at_work(chain.clinic) as lock:
        other = make_again(chain, lock)
    for line in other or ["made again from the uploaded bytes: every byte is the same"]:
        say(line)
    return bool(other)


def lines(chain: Chain) -> list[str]:
    """The chain, what became of its files, and how to make it again."""
    told, force = chain.made_from, "in force" if chain.in_force else "not in force"
    head = (
        f"{chain.sitting} under {chain.protocol} version {chain.version}, settings "
        f"{told.settings}, algorithms {told.algorithms}, seed {told.seed} ({force})"
    )
    body = [line for stage in STAGES for line in _stage_lines(chain, stage)]
    return [head, *body, *_software(chain), *_now(chain), *_how(chain)]


def _stage_lines(chain: Chain, stage: str) -> list[str]:
    reads, writes = STAGES[stage]
    told = chain.made_from
    with_what = f"settings {told.settings}, algorithms {told.algorithms}"
    seed = f", seed {told.seed}" if stage in _USES_SEED else ""
    out = [f"{stage} ({with_what}{seed})" if stage != "write_bids" else stage]
    for word, roles in (("reads", reads), ("writes", writes)):
        for role, one in used(chain, roles).items():
            out.append(f"  {word:6} {role:18} {one.sha256}  {one.path}")
    return out


def _software(chain: Chain) -> list[str]:
    told = chain.provenance()
    if told:
        packages = told.get("packages", {})
        named = ", ".join(f"{p} {packages[p]}" for p in _PACKAGES if p in packages)
        return [f"made with: {named} (all in the sitting's provenance.json)"]
    return [f"this program: {', '.join(f'{p} {version(p)}' for p in _PACKAGES)}"]


def _now(chain: Chain) -> list[str]:
    changed, unknown = chain.changed(), chain.not_checked
    said = []
    if changed:
        said.append(f"not the bytes any more, or gone: {', '.join(changed)}")
    if unknown:
        said.append(f"not checked, since nothing says what it held: {', '.join(unknown)}")
    return [*said, f"all {'other ' if said else ''}files still hold these bytes"]


def _how(chain: Chain) -> list[str]:
    return [
        "to make it again from the uploaded bytes, apart, and compare every byte:",
        f"    scripts/aftersit explain CLINIC/{chain.record} --again --clinic CLINIC",
        "by hand, into its place, once it was deleted:",
        f"    .venv/bin/snakemake --directory CLINIC --cores 1 {chain.record}",
        "on another kind of processor last digits may differ; --again says how far",
    ]
