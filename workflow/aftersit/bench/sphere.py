"""A dipole in nested spheres: the closed form that solvers are held against.

Zhang 1995, Phys Med Biol 40:335, equations 1 and 2 (from memory; the coefficients
equal those of mne's multi-sphere model, and one shell equals the closed form for a
homogeneous sphere).
"""

from dataclasses import dataclass

import numpy as np

from aftersit.head.settings import Conductivity
from aftersit.head.surface import Surface
from aftersit.head.template import Layers, icosphere_triangles, read_mesh

TERMS = 300
"""Of the series; at 0.96 of the outer radius the last is below 1e-5 of the first."""


@dataclass(frozen=True)
class Shells:
    """Nested spheres about the origin, from inside out.

    Attributes
    ----------
    radius_mm : tuple of float
    conductivity_s_per_m : tuple of float
        Of the space inside each radius and outside the one before.
    """

    radius_mm: tuple[float, ...]
    conductivity_s_per_m: tuple[float, ...]

    def layers(self, mesh_level: int) -> Layers:
        """Three shells as meshes, vertices on the spheres."""
        triangles = icosphere_triangles(mesh_level)
        vertices = read_mesh("sphere", "left").vertices_mm[: triangles.max() + 1]
        unit = vertices / np.linalg.norm(vertices, axis=1, keepdims=True)
        return Layers(*(Surface(unit * radius, triangles) for radius in self.radius_mm))

    @property
    def conductivity(self) -> Conductivity:
        """Of three shells, as the head's settings hold it."""
        brain, skull, scalp = self.conductivity_s_per_m
        return Conductivity(brain=brain, skull=skull, scalp=scalp)


def sphere_potential(
    shells: Shells, position_mm: np.ndarray, moment: np.ndarray, electrode_mm: np.ndarray
) -> np.ndarray:
    """Potential on the outer sphere.

    Parameters
    ----------
    shells : Shells
    position_mm : ndarray, shape (n_sources, 3)
        Inside the innermost sphere, not at its centre.
    moment : ndarray, shape (n_sources, 3)
        A m.
    electrode_mm : ndarray, shape (n_electrodes, 3)
        On the outer sphere.

    Returns
    -------
    ndarray, shape (n_electrodes, n_sources)
        V; zero on average over the sphere.
    """
    distance = np.linalg.norm(position_mm, axis=1)
    radial = position_mm / distance[:, None]
    outward = electrode_mm / np.linalg.norm(electrode_mm, axis=1, keepdims=True)
    cosine = outward @ radial.T
    along = np.sum(moment * radial, axis=1)
    # The part of the moment across the radius, seen from each electrode.
    across = outward @ moment.T - cosine * along
    order = np.arange(1, TERMS + 1)
    scale = (2 * order + 1) / order * shell_coefficients(shells, order)
    powers = (distance / shells.radius_mm[-1])[:, None] ** (order - 1)
    values, slopes = _legendre(cosine, TERMS)
    total = np.einsum("sn,nes->es", powers * scale * order, values) * along
    total += np.einsum("sn,nes->es", powers * scale, slopes) * across
    outer_m = shells.radius_mm[-1] / 1e3
    return total / (4 * np.pi * shells.conductivity_s_per_m[-1] * outer_m**2)


def shell_coefficients(shells: Shells, order: np.ndarray) -> np.ndarray:
    """What the shells do to each order of the series; all ones for a single shell."""
    n = order.astype(float)
    product = np.broadcast_to(np.eye(2), (len(n), 2, 2))
    outer, values = shells.radius_mm[-1], shells.conductivity_s_per_m
    for radius, inside, outside in zip(shells.radius_mm, values, values[1:], strict=False):
        step = np.empty((len(n), 2, 2))
        ratio, power = inside / outside, (radius / outer) ** (2 * n + 1)
        step[:, 0, 0] = n + (n + 1) * ratio
        step[:, 0, 1] = (n + 1) * (ratio - 1) / power
        step[:, 1, 0] = n * (ratio - 1) * power
        step[:, 1, 1] = n + 1 + n * ratio
        product = product @ (step / (2 * n + 1)[:, None, None])
    return n / (n * product[:, 1, 1] + (n + 1) * product[:, 1, 0])


def _legendre(x: np.ndarray, terms: int) -> tuple[np.ndarray, np.ndarray]:
    """P_n and its derivative for n = 1 to `terms`, by their recurrences."""
    values, slopes = [np.ones_like(x), x], [np.zeros_like(x), np.ones_like(x)]
    for n in range(1, terms):
        values.append(((2 * n + 1) * x * values[n] - n * values[n - 1]) / (n + 1))
        slopes.append(x * slopes[n] + (n + 1) * values[n])
    return np.stack(values[1:]), np.stack(slopes[1:])
