"""Draw heads that a client's could be, for one settings version."""

import argparse
from pathlib import Path

from aftersit.step import run_step


def main(argv: list[str] | None = None) -> None:
    """Read the options and hand over."""
    from aftersit.head.model import load_head
    from aftersit.head.plausible import draw_heads, save_plausible
    from aftersit.settings import read_settings

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--head", type=Path, required=True, help="head.npz of the template")
    options.add_argument("--settings", type=Path, required=True, help="settings version, .yaml")
    options.add_argument("--out", type=Path, required=True, help="plausible.npz to write")
    chosen = options.parse_args(argv)
    settings = read_settings(chosen.settings)
    save_plausible(draw_heads(load_head(chosen.head), settings.head, settings.seed), chosen.out)


if __name__ == "__main__":
    run_step(main)
