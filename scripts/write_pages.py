"""Write one sitting's pages: the clinician's report, as HTML and PDF, and the client's handout."""

import argparse
import datetime as dt
from pathlib import Path

from aftersit.collector import without_collector
from aftersit.step import run_step


@without_collector()
def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.clinic import Clinic, SittingId
    from aftersit.pages.inputs import SittingFiles
    from aftersit.pages.sitting import write_pages

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clinic", type=Path, required=True, help="the clinic's folder")
    options.add_argument("--sitting", type=SittingId.parse, required=True, help="K07/03")
    options.add_argument("--date", type=dt.date.fromisoformat, required=True, help="YYYY-MM-DD")
    options.add_argument("--settings", required=True, help="settings version of the records")
    options.add_argument("--sheet", type=Path, required=True, help="the sitting's sheet")
    options.add_argument("--events", type=Path, required=True, help="the blocks' _events.tsv")
    options.add_argument("--quality", type=Path, required=True, help="sidecar of the cleaned EEG")
    options.add_argument("--bandpower", type=Path, required=True, help="_bandpower.tsv")
    options.add_argument("--spectra", type=Path, required=True, help="_spectra.tsv")
    options.add_argument("--regions", type=Path, required=True, help="_regions.npz")
    options.add_argument("--head", type=Path, required=True, help="head.npz")
    options.add_argument("--records", type=Path, nargs="+", required=True, help="record.json files")
    options.add_argument(
        "--output", type=Path, required=True, help="clinician.html; the others beside it"
    )
    chosen = options.parse_args(argv)
    clinic = Clinic(chosen.clinic)
    names = ("records", "sheet", "events", "quality", "bandpower", "spectra")
    names += ("regions", "head")
    files = SittingFiles(
        **{name: getattr(chosen, name) for name in names}, protocols=clinic.kept_protocols
    )
    write_pages(clinic, chosen.sitting, chosen.date, chosen.settings, files, chosen.output.parent)


if __name__ == "__main__":
    run_step(main)
