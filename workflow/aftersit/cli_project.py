"""The commands about the project itself: demo, test, bench, validate."""

import argparse
import os
import sys
from pathlib import Path

from aftersit import cli_types as types
from aftersit.cli_parts import Add, say
from aftersit.errors import AftersitError

REPOSITORY = Path(__file__).parents[2]
BENCHES = ("archive", "change", "cleaning", "night", "pages", "regions", "replay")


def add_project_commands(add: Add) -> None:
    """Add the four commands to the command line."""
    add("demo", demo, "make the invented demo clinic in demo/ and run a night over it")
    add("test", test, "run the tests; all further words go to pytest")
    benches = add("bench", bench, "measure accuracy or speed; prints tables, writes bench/*.tsv")
    benches.add_argument("name", choices=BENCHES, help="what to measure")
    benches.add_argument("--quick", action="store_true", help="few cases, not to be quoted")
    benches.add_argument("--only", metavar="PART", help="of `night` or `change`: one part of it")
    sizes = "of a part of `night`: minutes, or numbers of sittings, with commas"
    benches.add_argument("--sizes", type=types.numbers, default=(), metavar="N", help=sizes)
    _add_validate(add)


def _add_validate(add: Add) -> None:
    tried = add("validate", validate, "check the main job against the outside world; make a page")
    into = "where validation.html and .tsv go (default: validation/)"
    tried.add_argument("--into", type=Path, default=Path("validation"), metavar="FOLDER", help=into)
    folder = os.environ.get("AFTERSIT_OPEN_DATA")
    data = "open recordings, all of which are processed (default: AFTERSIT_OPEN_DATA, if set)"
    default = Path(folder) if folder else None
    tried.add_argument("--open-data", type=Path, default=default, metavar="FOLDER", help=data)
    faults = "also break the code on purpose and see that it is noticed; takes minutes"
    tried.add_argument("--faults", action="store_true", help=faults)


def demo(_: argparse.Namespace) -> int:
    """Make the demo clinic if it is not there, run a night, and say what to open."""
    from aftersit.clinic import Clinic
    from aftersit.night.run import run_night
    from demo_clinic.make import make_demo

    root = REPOSITORY / "demo"
    if not (root / "clinic.yaml").is_file():
        print("making the invented demo clinic in demo/")
        make_demo(root)
    night = run_night(Clinic(root), say=say)
    print("\nopen, for example:")
    for name in ("digest.html", "clinician.html", "handout.pdf"):
        for page in sorted(root.glob(f"reports/*/*/{name}")):
            print(f"  {page.relative_to(REPOSITORY)}")
    return 0 if night.failed == 0 else 4


def test(options: argparse.Namespace) -> int:
    """Run the tests from the repository's root; all further words go to pytest."""
    os.chdir(REPOSITORY)
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *options.rest])


def bench(options: argparse.Namespace) -> int:
    """Print the tables of one bench as they come, and write each as TSV."""
    from importlib import import_module

    chosen = {"only": options.only} if options.only else {}
    if chosen and options.name not in ("night", "change"):
        raise AftersitError("--only is for `bench night` and `bench change`")
    if options.sizes and options.name == "night":
        chosen["sizes"] = options.sizes
    made = import_module(f"aftersit.bench.{options.name}")
    for table in made.tables(options.quick, **chosen):
        print(f"{table.text()}\n", flush=True)
        table.write(REPOSITORY / "bench", options.name)
    return 0


def validate(options: argparse.Namespace) -> int:
    """Run every check, write the page and the table, and say where they are."""
    from aftersit.evidence.page import counts, write_page
    from aftersit.evidence.run import gather

    found = gather(options.open_data, options.faults, say)
    page = write_page(found, options.into)
    say(", ".join(f"{value} {name}" for name, value in counts(found.outcomes).items()))
    say(f"open {page}")
    return 1 if found.failed else 0
