"""Run a protocol over one sitting, uncleaned and cleaned, and write the record."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.change.made_from import input_files, made_from, write_made_from
    from aftersit.protocol import Protocol
    from aftersit.replay.files import Inputs, replay_files, write_replayed
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--raw", type=Path, required=True, help="raw BIDS recording, .vhdr")
    options.add_argument("--clean", type=Path, required=True, help="cleaned recording, .vhdr")
    options.add_argument("--regions", type=Path, required=True, help="_regions.npz")
    options.add_argument("--cross", type=Path, required=True, help="_cross.npz")
    options.add_argument("--head", type=Path, required=True, help="head.npz")
    options.add_argument("--protocol", type=Path, required=True, help="protocol version, .yaml")
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    options.add_argument("--label", required=True, help="label that the results stand under")
    options.add_argument("--facts", type=Path, required=True, help="facts of the sheet, .json")
    options.add_argument("--out", type=Path, required=True, help="folder for the files")
    chosen = options.parse_args(argv)
    inputs = Inputs(chosen.raw, chosen.clean, chosen.regions, chosen.head, chosen.cross)
    protocol = Protocol.from_yaml(chosen.protocol)
    settings = read_settings(chosen.settings)
    write_replayed(replay_files(inputs, protocol, chosen.label, settings), chosen.out)
    files = input_files(inputs, chosen.protocol, chosen.settings, chosen.facts)
    write_made_from(made_from(files, chosen.label, settings), chosen.out)


if __name__ == "__main__":
    run_step(main)
