"""Write one sitting's upload as raw BIDS."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.bids.write import write_sitting
    from aftersit.clinic import Clinic, SittingId
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--original", type=Path, required=True, help="folder of uploaded bytes")
    options.add_argument("--clinic", type=Path, required=True, help="the clinic's folder")
    options.add_argument("--sitting", type=SittingId.parse, required=True, help="K07/03")
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    chosen = options.parse_args(argv)
    clinic = Clinic(chosen.clinic)
    clinic_settings = clinic.read_settings()
    write_sitting(
        chosen.original,
        chosen.sitting,
        clinic.bids,
        clinic_settings,
        read_settings(chosen.settings).intake,
    )


if __name__ == "__main__":
    run_step(main)
