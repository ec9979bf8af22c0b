"""The electrodes on a sphere: enough for maps, distances and what lies beside what."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from aftersit.plain_yaml import load_plain_yaml

TABLE = Path(__file__).parents[2] / "shared" / "sphere_positions.yaml"


@cache
def _positions() -> dict[str, list[float]]:
    return load_plain_yaml(TABLE)


def angles(names: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Degrees from the vertex, and degrees from the nose, positive to the right."""
    from_vertex, from_nose = np.array([_positions()[name] for name in names], float).T
    return from_vertex, from_nose


def on_unit_sphere(names: Sequence[str]) -> np.ndarray:
    """Places, shape (n_electrodes, 3): right, front, up."""
    from_vertex, from_nose = np.deg2rad(angles(names))
    flat = np.sin(from_vertex)
    return np.stack([flat * np.sin(from_nose), flat * np.cos(from_nose), np.cos(from_vertex)], 1)
