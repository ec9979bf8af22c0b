"""Build the template head of one settings version."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.head.model import build_head, save_head
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    options.add_argument("--out", type=Path, required=True, help="head.npz to write")
    chosen = options.parse_args(argv)
    save_head(build_head(read_settings(chosen.settings).head), chosen.out)


if __name__ == "__main__":
    run_step(main)
