"""Write one sitting's handout for the client."""

import argparse
import datetime as dt
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.clinic import Clinic, SittingId
    from aftersit.pages.handout import HandoutFiles, read_handout, write_handout

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clinic", type=Path, required=True, help="the clinic's folder")
    options.add_argument("--sitting", type=SittingId.parse, required=True, help="K07/03")
    options.add_argument("--date", type=dt.date.fromisoformat, required=True, help="YYYY-MM-DD")
    options.add_argument("--sheet", type=Path, required=True, help="the sitting's sheet")
    options.add_argument("--records", type=Path, nargs="+", required=True, help="record.json files")
    options.add_argument("--output", type=Path, required=True, help="the PDF to write")
    chosen = options.parse_args(argv)
    files = HandoutFiles(records=tuple(chosen.records), sheet=chosen.sheet)
    inputs = read_handout(Clinic(chosen.clinic), chosen.sitting, chosen.date, files)
    write_handout(inputs, chosen.output)


if __name__ == "__main__":
    run_step(main)
