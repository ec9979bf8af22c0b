"""`scripts/aftersit`: the commands, each a thin face on a task."""

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

from aftersit import cli_types as types
from aftersit.cli_change import add_change_commands
from aftersit.cli_parts import Add, clinic_of, say
from aftersit.cli_project import add_project_commands, test
from aftersit.errors import AftersitError
from aftersit.threads import use_one_thread
from aftersit.trouble import in_words, where

EXIT_CODES = """exit codes of `nightly`:
  0  all done
  3  done, and some uploads were set aside
  4  some sittings failed, or the night itself did
  5  another night is running for this clinic; nothing was done
`replay` ends with 0, or with 4 when some sittings failed
other commands: 0 fine, 1 something to put right (said in one line), 2 wrong call"""


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    os.umask(0o077)
    use_one_thread()
    top = parser()
    options, rest = top.parse_known_args(arguments)
    if options.run is test:
        options.rest = rest
    elif rest:
        top.error(f"unknown: {' '.join(rest)}")
    try:
        return options.run(options)
    except AftersitError as error:
        print(f"aftersit: {error}", file=sys.stderr)
        return 1
    except (BrokenPipeError, KeyboardInterrupt):
        return 130
    except OSError as error:
        print(f"aftersit: {in_words(error)}", file=sys.stderr)
        return 1


def parser() -> argparse.ArgumentParser:
    """The command line."""
    top = argparse.ArgumentParser(
        prog="aftersit",
        description="EEG recordings of meditation-training sittings, turned into answers.",
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = top.add_subparsers(required=True, metavar="COMMAND")
    add = _adder(commands)
    add_project_commands(add)
    in_clinic = _clinic_option()
    add("check", check, "say what intake would say of an upload", in_clinic).add_argument(
        "upload", type=Path, metavar="UPLOAD", help="folder with a recording and its sitting.yaml"
    )
    add("nightly", nightly, "process what came, and write the digest", in_clinic)
    add("status", status, "how old the last night is and what is open", in_clinic)
    add("retry", retry, "send a corrected set-aside upload again", in_clinic).add_argument(
        "upload", metavar="UPLOAD", help="its folder's name under set-aside/"
    )
    listed = add("regions", regions, "list regions and how pure their measures are", in_clinic)
    listed.add_argument("region", nargs="*", metavar="REGION", help="only these, by name or key")
    served = "10-10 electrodes that serve, with commas (default: the 19 standard ones)"
    listed.add_argument("--electrodes", type=types.words, metavar="NAMES", help=served)
    listed.add_argument(
        "--without", type=types.words, default=(), metavar="NAMES", help="leave these out"
    )
    listed.add_argument("--tsv", action="store_true", help="all columns, for programs")
    _add_audit_and_erase(add, in_clinic)
    add_change_commands(add, in_clinic)
    _add_exports(add, in_clinic)
    release = add("release", release_handout, "record that a handout was reviewed", in_clinic)
    release.add_argument("sitting", metavar="SITTING", help="CLIENT/NUMBER, for example K07/03")
    release.add_argument("--reviewer", required=True, metavar="CODE", help="the reviewer's code")
    again = add("reword", reword, "make pages again after a change of words", in_clinic)
    which = "CLIENT/NUMBER (default: all unreviewed ones with an earlier clinic.yaml or words.yaml)"
    again.add_argument("sitting", nargs="*", metavar="SITTING", help=which)
    return top


def _add_audit_and_erase(add: Add, in_clinic: argparse.ArgumentParser) -> None:
    sure = add("audit", audit, "prove that nothing is lost or changed", in_clinic)
    many = "sittings to compute again (default 1)"
    sure.add_argument("--sample", type=types.count, default=1, metavar="N", help=many)
    which = "which ones; the same seed takes the same (default: by the day)"
    sure.add_argument("--seed", type=types.whole, metavar="N", help=which)
    gone = add("erase", erase_client, "remove a client from everywhere but exports", in_clinic)
    gone.add_argument("client", metavar="CLIENT", help="the client's code")
    gone.add_argument("--yes", action="store_true", help="do not ask")


def _add_exports(add: Add, in_clinic: argparse.ArgumentParser) -> None:
    made = add("export", make_export, "make an archive for a research partner", in_clinic)
    made.add_argument("name", metavar="NAME", help="it becomes exports/NAME/")
    made.add_argument("--partner", required=True, help="settings in partners/PARTNER.yaml")
    which = "only sittings with this: client, practice, protocol or settings; may be repeated"
    made.add_argument("--where", action="append", default=[], metavar="KEY=VALUE,...", help=which)
    made.add_argument("--update", action="store_true", help="make an export again, ids unchanged")
    answers = "who answers for groups of people smaller than the partner's k"
    made.add_argument("--small-groups-allowed-by", metavar="CODE", help=answers)
    add("exports", list_exports, "list exports, and whose consent no longer holds", in_clinic)


def _adder(commands) -> Callable[..., argparse.ArgumentParser]:
    def add(name: str, run: Callable, text: str, *parents: argparse.ArgumentParser):
        command = commands.add_parser(name, help=text, description=text, parents=list(parents))
        command.set_defaults(run=run)
        return command

    return add


def _clinic_option() -> argparse.ArgumentParser:
    parent = argparse.ArgumentParser(add_help=False)
    parent.add_argument(
        "--clinic",
        type=Path,
        metavar="FOLDER",
        default=Path(os.environ.get("AFTERSIT_CLINIC", ".")),
        help="the clinic's folder (default: AFTERSIT_CLINIC, else this folder)",
    )
    return parent


def check(options: argparse.Namespace) -> int:
    """Print what intake would say."""
    from aftersit.intake.block_times import block_line
    from aftersit.names import shown
    from aftersit.night.run import receiver

    receiving = receiver(clinic_of(options))
    upload = options.upload.resolve()
    if not upload.exists():
        raise AftersitError(f"there is no folder {shown(str(options.upload))}")
    finding = receiving.check(upload)
    if finding.accepted is None:
        return _refused(finding.problems)
    decision = receiving.decide(upload, finding.accepted)
    if decision.problem:
        return _refused((decision.problem,))
    if decision.had_already:
        print(f"nothing new: this is {decision.had_already.sitting}, byte for byte")
        return 0
    entry = decision.entry
    print(f"would be taken as {entry.sitting}, revision {entry.revision.number}, {entry.date}")
    for block in finding.accepted.blocks:
        print(f"  block {block_line(block)}")
    for note in finding.accepted.notes:
        print(f"  note: {note.text}")
    return 0


def _refused(problems: tuple) -> int:
    from aftersit.intake.reasons import check_text

    print(check_text(problems))
    return 1


def nightly(options: argparse.Namespace) -> int:
    """Run one night."""
    from aftersit.night.lock import AlreadyRunningError
    from aftersit.night.run import run_night

    try:
        return run_night(clinic_of(options), say=say).exit_code
    except AlreadyRunningError as error:
        print(f"aftersit: {error}", file=sys.stderr)
        return 5
    except (AftersitError, OSError) as error:
        why = in_words(error) if isinstance(error, OSError) else error
        print(f"aftersit: the night broke off: {why}", file=sys.stderr)
        return 4
    except Exception as error:  # a traceback might quote what an upload says
        why = _log_fault(clinic_of(options), error)
        print(f"aftersit: the night broke off: {why}", file=sys.stderr)
        return 4


def _log_fault(clinic, error: Exception) -> str:
    """Keep where a fault of our own arose; returns what to tell the user."""
    from aftersit.files import write_atomically

    log = clinic.state / "logs" / "night-broken.log"
    write_atomically(log, f"{where(error)}\n")
    return (
        "something went wrong that this program does not know; ask whoever looks after "
        f"Aftersit to look at {log.relative_to(clinic.root)}"
    )


def status(options: argparse.Namespace) -> int:
    """Print how things stand."""
    from aftersit.night.status import describe

    print("\n".join(describe(clinic_of(options))))
    return 0


def retry(options: argparse.Namespace) -> int:
    """Move a set-aside upload back into the inbox, if the next night would take it."""
    from aftersit.intake.reasons import why_text
    from aftersit.names import shown
    from aftersit.night.retry import send_again, still_wrong

    problems = still_wrong(clinic_of(options), options.upload)
    if problems:
        text = why_text(shown(Path(options.upload).name), problems)
        print(f"Nothing was sent again.\n{text}")
        return 1
    print(send_again(clinic_of(options), options.upload))
    return 0


def regions(options: argparse.Namespace) -> int:
    """List regions for some electrodes."""
    from aftersit.electrodes import STANDARD_19
    from aftersit.head import show
    from aftersit.head.listing import regions_table
    from aftersit.night.models import clinic_model
    from aftersit.night.run import receiver

    electrodes = show.served(options.electrodes or STANDARD_19, options.without)
    model = clinic_model(clinic_of(options))
    head, measures = show.measured(model, electrodes, lambda text: print(text, file=sys.stderr))
    table = show.chosen_rows(regions_table(head, measures), options.region)
    text = show.as_tsv(table) if options.tsv else show.as_text(table, electrodes)
    print(text)
    caution = show.too_few(electrodes, receiver(clinic_of(options)).intake.min_electrodes)
    if caution:
        print(caution, file=sys.stderr)
    return 0


def audit(options: argparse.Namespace) -> int:
    """Prove that every byte is there and that results can be made again."""
    import datetime as dt

    from aftersit.night.audit import audit

    seed = dt.date.today().toordinal() if options.seed is None else options.seed
    found = audit(clinic_of(options), options.sample, seed, say=say)
    return 1 if found else 0


def erase_client(options: argparse.Namespace) -> int:
    """Remove a client."""
    import datetime as dt

    from aftersit.night.erase import erase

    if not options.yes:
        if not sys.stdin.isatty():
            raise AftersitError("nothing erased: nobody can be asked here; add --yes to be sure")
        if input(f"This can't be undone. Type {options.client} again: ") != options.client:
            raise AftersitError("nothing erased: the two codes differ")
    print("\n".join(erase(clinic_of(options), options.client, dt.date.today())))
    return 0


def make_export(options: argparse.Namespace) -> int:
    """Make a bag for a partner."""
    from aftersit.archive.export import Wanted, export

    wanted = Wanted(
        name=options.name,
        partner=options.partner,
        where=tuple(options.where),
        update=options.update,
        small_groups_allowed_by=options.small_groups_allowed_by,
    )
    clinic = clinic_of(options)
    bag = export(clinic, wanted, clinic.today(), say)
    print(f"made {bag.relative_to(clinic.root)}; read its data/README.md before you hand it over")
    return 0


def list_exports(options: argparse.Namespace) -> int:
    """Print the exports that were made."""
    from aftersit.archive.register import describe

    clinic = clinic_of(options)
    print("\n".join(describe(clinic, clinic.today())))
    return 0


def release_handout(options: argparse.Namespace) -> int:
    """Record a review and make the pages again."""
    from aftersit.clinic import SittingId
    from aftersit.night.release import release

    print(release(clinic_of(options), SittingId.parse(options.sitting), options.reviewer))
    return 0


def reword(options: argparse.Namespace) -> int:
    """Make pages that wait for a review again."""
    from aftersit.clinic import SittingId
    from aftersit.night.reword import reword as run

    named = [SittingId.parse(name) for name in options.sitting]
    return run(clinic_of(options), named, print)


if __name__ == "__main__":
    sys.exit(main())
