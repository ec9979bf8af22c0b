"""The commands for what follows a change: replay, compare, explain, new-version."""

import argparse
from pathlib import Path

from aftersit import cli_types as types
from aftersit.cli_parts import Add, clinic_of, say
from aftersit.errors import AftersitError
from aftersit.sheet import Practice


def add_change_commands(add: Add, in_clinic: argparse.ArgumentParser) -> None:
    """Add the four commands to the command line."""
    _add_replay(add("replay", replay, "score earlier sittings again after a change", in_clinic))
    both = add("compare", compare, "what a version changes over all sittings", in_clinic)
    sides = "PROTOCOL/vN, SETTINGS (as s1), or SETTINGS:PROTOCOL/vN"
    both.add_argument("a", metavar="A", help=sides)
    both.add_argument("b", metavar="B", help="the same, for what A is compared with")
    both.add_argument(
        "--out",
        type=Path,
        metavar="FOLDER",
        help="where the page goes (default: reports/versions-compared)",
    )
    why = add("explain", explain, "where the numbers of a record come from", in_clinic)
    why.add_argument("record", type=Path, metavar="RECORD", help="a record.json, or CLIENT/NUMBER")
    why.add_argument("--crate", type=Path, metavar="FOLDER", help="write it as an RO-Crate too")
    again = "make it again, apart, from the uploaded bytes, and compare all bytes"
    why.add_argument("--again", action="store_true", help=again)
    new = add("new-version", new_version, "make a new version of a used one", in_clinic)
    which = new.add_mutually_exclusive_group(required=True)
    which.add_argument("protocol", nargs="?", metavar="PROTOCOL", help="a name under protocols/")
    named = "a settings version, as s1"
    which.add_argument("--settings", type=types.label, metavar="LABEL", help=named)
    back = "of PROTOCOL: undo edits of used versions instead (they are kept beside)"
    new.add_argument("--put-back", action="store_true", help=back)


def _add_replay(command: argparse.ArgumentParser) -> None:
    add, day = command.add_argument, types.day
    add("--protocol", metavar="P", help="score under this protocol")
    add("--version", type=types.version, metavar="N", help="its version (default: the newest)")
    add("--settings", type=types.label, metavar="LABEL", help="compute under this settings version")
    add("--upgrade", action="store_true", help="make what earlier algorithms made again")
    add("--clients", type=types.codes, default=(), metavar="CODES", help="only these, with commas")
    add("--from", dest="first", type=day, metavar="DATE", help="only from this day on")
    add("--to", dest="last", type=day, metavar="DATE", help="only up to this day")
    add("--practice", choices=[p.value for p in Practice], metavar="PRACTICE", help="only this one")
    add("--not-practised", action="store_true", help="sittings of other protocols too, as a try")
    add("--try", dest="only_try", action="store_true", help="leave pages and what is in force")


def replay(options: argparse.Namespace) -> int:
    """Rescore."""
    from aftersit.change.replay import replay as run
    from aftersit.change.select import Request
    from aftersit.protocol import versions

    clinic = clinic_of(options)
    clinic.read_settings()
    if not (options.protocol or options.settings or options.upgrade):
        raise AftersitError("say what changed: --protocol P, --settings LABEL or --upgrade")
    if options.version is not None and not options.protocol:
        raise AftersitError("--version goes with --protocol")
    version = options.version
    if options.protocol and version is None:
        known = versions(clinic.protocols, options.protocol)
        if not known:
            raise AftersitError(f"there is no protocol '{options.protocol}' under protocols/")
        version = known[-1]
    names = ("protocol", "settings", "upgrade", "clients", "first", "last", "practice")
    names += ("not_practised", "only_try")
    request = Request(version=version, **{name: getattr(options, name) for name in names})
    return run(clinic, request, say).exit_code


def compare(options: argparse.Namespace) -> int:
    """Compare two versions."""
    from aftersit.change.compare import compare as run

    for line in run(clinic_of(options), options.a, options.b, options.out):
        print(line)
    return 0


def explain(options: argparse.Namespace) -> int:
    """Explain a record."""
    from aftersit.change.explain import explain as run

    return run(clinic_of(options), options.record, options.crate, options.again, say)


def new_version(options: argparse.Namespace) -> int:
    """Make a new version."""
    from aftersit.change import new_version as new

    clinic = clinic_of(options)
    clinic.read_settings()
    if options.put_back:
        if options.settings:
            raise AftersitError("--put-back goes with a protocol; copy settings back by hand")
        lines = new.put_protocol_back(clinic, options.protocol)
    elif options.settings:
        lines = new.new_settings_version(clinic, options.settings)
    else:
        lines = new.new_protocol_version(clinic, options.protocol)
    print("\n".join(lines))
    return 0
