"""Write one client's progress page, as HTML and PDF."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.clinic import Clinic, SittingId
    from aftersit.night.ledger import Ledger
    from aftersit.night.plan import planned
    from aftersit.pages.progress import write_progress

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clinic", type=Path, required=True, help="the clinic's folder")
    options.add_argument("--client", required=True, help="the client's code")
    options.add_argument("--sittings", type=int, nargs="+", required=True, help="their numbers")
    options.add_argument("--yardstick", required=True, help="protocol and version: calm-sea/2")
    options.add_argument("--output", type=Path, required=True, help="HTML to write")
    chosen = options.parse_args(argv)
    clinic = Clinic(chosen.clinic)
    name, version = chosen.yardstick.rsplit("/", 1)
    ledger = Ledger(clinic)
    entries = [ledger.read(SittingId(chosen.client, n)) for n in chosen.sittings]
    sittings = [planned(entry) for entry in entries if entry]
    write_progress(clinic, chosen.client, sittings, (name, int(version)), chosen.output)


if __name__ == "__main__":
    run_step(main)
