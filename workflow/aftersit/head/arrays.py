"""Arrays in one file whose bytes depend on the arrays alone."""

import io
from pathlib import Path

import numpy as np

from aftersit.errors import AftersitError
from aftersit.files import write_atomically


def save_arrays(path: Path, arrays: dict[str, np.ndarray]) -> None:
    """Write named arrays; numpy dates every member of its archive 1980-01-01."""
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    write_atomically(path, buffer.getvalue())


def load_arrays(path: Path) -> dict[str, np.ndarray]:
    """Read what `save_arrays` wrote.

    Raises
    ------
    AftersitError
        The file is missing or is no such archive.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            return {name: archive[name] for name in archive.files}
    except (OSError, ValueError, AttributeError) as error:
        raise AftersitError(
            f"{path.name} can't be read as arrays ({error}); delete it and run again"
        ) from None
