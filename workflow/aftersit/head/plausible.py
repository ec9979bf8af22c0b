"""Heads that a client's could be, for what the template's mistakes do to a measure.

Each draw differs from the template in conductivity of skull and scalp, thickness
of the skull, length of the three axes of the head, and places of the electrodes.
Of each only what is needed later is kept: how the electrodes hear each region. A
person's own folds are not drawn: they add to the spread.
"""

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.atlas import half_keys
from aftersit.head.model import Head, template_cortex, template_electrodes
from aftersit.head.settings import Conductivity, HeadSettings, PlausibleSettings
from aftersit.head.solver import solve_bem
from aftersit.head.template import read_layers

VERTICES = 2562
"""Sources are the first vertices of each side's mesh: those of a mesh once coarser."""
COLUMNS = ("skull_ratio", "scalp_ratio", "skull_mm", "skull_share", "x", "y", "z")


@dataclass(frozen=True)
class PlausibleHeads:
    """How electrodes hear each region in other heads, and in the template.

    Attributes
    ----------
    names : tuple of str
        Electrodes.
    template : ndarray, shape (68, n_electrodes, n_electrodes)
        Covariance of each region and side (`half_keys`) when its sources are active
        alike and apart, (V/(A m))^2, no reference taken.
    drawn : ndarray, shape (n_draws, 68, n_electrodes, n_electrodes)
        The same in each draw: all placements of the first head, then of the next.
    template_in_step : ndarray, shape (68, n_electrodes)
        Potential when all sources of a region and side are active in step, V/(A m).
    drawn_in_step : ndarray, shape (n_draws, 68, n_electrodes)
    heads : ndarray, shape (n_heads, 7)
        What was drawn, in the order of `COLUMNS`: brain over skull and scalp over brain
        conductivity, limit and share of the skull's thickness, lengths over the template's.
    """

    names: tuple[str, ...]
    template: np.ndarray
    drawn: np.ndarray
    template_in_step: np.ndarray
    drawn_in_step: np.ndarray
    heads: np.ndarray


def draw_heads(
    head: Head, settings: HeadSettings, seed: int, names: tuple[str, ...] = STANDARD_19
) -> PlausibleHeads:
    """Draw and solve.

    Parameters
    ----------
    head : Head
        The template, with the electrodes `names`.
    settings : HeadSettings
        The template's; section `plausible` says how far the draws go.
    seed : int
    names : tuple of str
        Electrodes of the 10-5 system.
    """
    chosen = settings.plausible
    drawn, electrode_mm = _draws(chosen, seed), template_electrodes(names)
    cortex = template_cortex(settings.cortex_surface)
    cortex = {key: values[cortex["vertex"] < VERTICES] for key, values in cortex.items()}
    rng = np.random.default_rng(seed)
    found = []
    for row in drawn:
        size = row[-3:]
        places = [
            _misplaced(electrode_mm, chosen.misplaced_mm, rng) * size
            for _ in range(chosen.placements)
        ]
        gain = _gain(row, settings, cortex, np.concatenate(places))
        found += [_parts(part, cortex) for part in np.split(gain, chosen.placements)]
    apart, in_step = (np.stack(column) for column in zip(*found, strict=True))
    template, template_in_step = _parts(head.gain[:, head.vertex < VERTICES], cortex)
    return PlausibleHeads(tuple(names), template, apart, template_in_step, in_step, drawn)


def _draws(chosen: PlausibleSettings, seed: int) -> np.ndarray:
    """Latin hypercube: few heads, each range spread over evenly; shape (n_heads, 7)."""
    from scipy.stats import norm, qmc

    share = qmc.LatinHypercube(len(COLUMNS), rng=seed).random(chosen.heads)
    logs = [_between(share[:, i], np.log(limits)) for i, limits in enumerate(chosen.ratios)]
    plain = [_between(share[:, 2], chosen.skull_mm), _between(share[:, 3], chosen.skull_share)]
    size = norm.ppf(share[:, 4:], 1, chosen.size_sd)
    return np.column_stack([*np.exp(logs), *plain, size])


def _between(share: np.ndarray, limits: tuple[float, float]) -> np.ndarray:
    return limits[0] + share * (limits[1] - limits[0])


def _gain(
    row: np.ndarray, settings: HeadSettings, cortex: dict[str, np.ndarray], electrode_mm: np.ndarray
) -> np.ndarray:
    """Gain of one drawn head, shape (n_electrodes, n_sources)."""
    skull_ratio, scalp_ratio, skull_mm, skull_share, *size = row.tolist()
    brain = settings.conductivity_s_per_m.brain
    conductivity = Conductivity(brain=brain, skull=brain / skull_ratio, scalp=brain * scalp_ratio)
    rule = settings.model_copy(update={"skull_max_mm": skull_mm, "skull_share": skull_share})
    layers = read_layers(rule).scaled(np.array(size))
    free = solve_bem(layers, conductivity, cortex["position_mm"] * size, electrode_mm)
    normal = cortex["normal"] / size
    return np.einsum("esd,sd->es", free, normal / np.linalg.norm(normal, axis=1, keepdims=True))


def _misplaced(
    electrode_mm: np.ndarray, limits_mm: tuple[float, float], rng: np.random.Generator
) -> np.ndarray:
    """Each electrode moved along the scalp: a length within the limits, any direction."""
    outward = electrode_mm - electrode_mm.mean(axis=0)
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    way = np.cross(outward, rng.normal(size=outward.shape))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    return electrode_mm + rng.uniform(*limits_mm, size=(len(way), 1)) * way


def _parts(gain: np.ndarray, cortex: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Covariance of each region and side with sources apart, and potential in step."""
    names = np.char.add(np.char.add(cortex["region"], "-"), cortex["hemisphere"])
    parts = [gain[:, names == key] for key in half_keys()]
    return np.stack([p @ p.T for p in parts]), np.stack([p.sum(axis=1) for p in parts])


def save_plausible(heads: PlausibleHeads, path: Path) -> None:
    """Write as .npz; the same heads give the same bytes."""
    names = [field.name for field in fields(PlausibleHeads)]
    save_arrays(path, {name: np.asarray(getattr(heads, name)) for name in names})


def load_plausible(path: Path) -> PlausibleHeads:
    """Read what `save_plausible` wrote; AftersitError when it can't serve."""
    arrays = load_arrays(path)
    return PlausibleHeads(**{**arrays, "names": tuple(arrays["names"].tolist())})
