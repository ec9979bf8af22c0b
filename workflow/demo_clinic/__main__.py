"""`python -m demo_clinic ROOT`: write the invented demo clinic."""

import argparse
import sys
from pathlib import Path

from aftersit.errors import AftersitError
from demo_clinic.make import SEED, make_demo


def main() -> int:
    """Write the demo clinic; 1 with a line on what to do when that is not possible."""
    parser = argparse.ArgumentParser(prog="demo_clinic", description=__doc__)
    parser.add_argument("root", type=Path, help="folder of the clinic, made when missing")
    parser.add_argument("--seed", type=int, default=SEED, help="of everything random")
    options = parser.parse_args()
    try:
        make_demo(options.root, options.seed)
    except AftersitError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
