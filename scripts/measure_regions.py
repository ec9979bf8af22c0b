"""Measure regions, spectra and band power of one cleaned sitting."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.head.bandpower import measure_sitting
    from aftersit.head.kept import Model
    from aftersit.head.region_set import read_regions
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clean", type=Path, required=True, help="cleaned recording, .vhdr")
    options.add_argument("--events", type=Path, required=True, help="_events.tsv of the raw one")
    options.add_argument("--head", type=Path, required=True, help="head.npz")
    options.add_argument("--plausible", type=Path, required=True, help="plausible.npz")
    options.add_argument("--regions", type=Path, help="the clinic's own regions.yaml")
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    options.add_argument("--out-folder", type=Path, required=True, help="for the files")
    chosen = options.parse_args(argv)
    settings, regions = read_settings(chosen.settings), read_regions(chosen.regions)
    model = Model(chosen.head, chosen.plausible, settings.head, regions, settings.seed)
    measure_sitting(chosen.clean, chosen.events, model, chosen.out_folder)


if __name__ == "__main__":
    run_step(main)
