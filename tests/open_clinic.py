"""The clinic of the open recordings by hand: `python tests/open_clinic.py OPEN_DATA FOLDER`."""

import sys
from pathlib import Path

from aftersit.evidence.open_clinic import make_open_clinic

__all__ = ["make_open_clinic"]

if __name__ == "__main__":
    make_open_clinic(Path(sys.argv[1]), Path(sys.argv[2]), fast="--fast" in sys.argv[3:])
