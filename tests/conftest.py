"""What every test stands on: one thread, a time zone that is not UTC, open data if present."""

import os
import time
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"
os.environ["TZ"] = "America/St_Johns"
time.tzset()

import pytest  # noqa: E402

REPOSITORY = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Folder of the open recordings; the test is skipped with the reason when absent."""
    folder = Path(os.environ.get("AFTERSIT_OPEN_DATA", REPOSITORY.parent / "shared" / "data"))
    if not (folder / "mental-arithmetic").is_dir():
        pytest.skip(f"open recordings not found at {folder}; set AFTERSIT_OPEN_DATA")
    return folder
