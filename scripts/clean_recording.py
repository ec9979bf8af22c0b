"""Clean one sitting of raw BIDS: signal, bad electrodes, bad spans and the account."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.clean.files import clean_sitting
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--recording", type=Path, required=True, help="raw BIDS _eeg.vhdr")
    options.add_argument("--out", type=Path, required=True, help="_desc-clean_eeg.vhdr to write")
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    chosen = options.parse_args(argv)
    clean_sitting(chosen.recording, chosen.out, read_settings(chosen.settings))


if __name__ == "__main__":
    run_step(main)
