"""Run a protocol over one sitting, uncleaned and cleaned, and write the record."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.protocol import Protocol
    from aftersit.replay.files import Inputs, replay_files, write_replayed
    from aftersit.settings import load_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--raw", type=Path, required=True, help="raw BIDS recording, .vhdr")
    options.add_argument("--clean", type=Path, required=True, help="cleaned recording, .vhdr")
    options.add_argument("--regions", type=Path, required=True, help="_regions.npz")
    options.add_argument("--cross", type=Path, required=True, help="_cross.npz")
    options.add_argument("--head", type=Path, required=True, help="head.npz")
    options.add_argument("--protocol", type=Path, required=True, help="protocol version, .yaml")
    options.add_argument("--settings", required=True, help="label of the settings version")
    options.add_argument("--out", type=Path, required=True, help="folder for the three files")
    chosen = options.parse_args(argv)
    inputs = Inputs(chosen.raw, chosen.clean, chosen.regions, chosen.head, chosen.cross)
    protocol = Protocol.from_yaml(chosen.protocol)
    replayed = replay_files(inputs, protocol, chosen.settings, load_settings(chosen.settings))
    write_replayed(replayed, chosen.out)


if __name__ == "__main__":
    run_step(main)
