"""Heads that are not the template: what the analysis assumes must not be what made the data."""

import hashlib
import inspect
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.head import solver, template
from aftersit.head.model import (
    MONTAGE,
    Head,
    build_head,
    load_head,
    save_head,
    template_cortex,
    template_electrodes,
)
from aftersit.head.settings import Conductivity, HeadSettings
from aftersit.head.solver import solve_bem
from aftersit.head.template import read_layers
from aftersit.settings import load_settings
from demo_clinic.sources import Sources

FOLDER = Path(__file__).parents[3] / "bench"
LABEL = "s1"
SEED = 20260417
RATIO = (15.0, 80.0)
"""Brain over skull conductivity: newer measurements and the oldest (from memory). The means
of McCann et al. 2019 (Brain Topogr 32:825) stand at about 20."""
SKULL_MM, SKULL_SHARE = (5.5, 9.0), (0.5, 0.7)
SIZE = (0.92, 1.08)
MISPLACED_MM = (5.0, 10.0)
NEAR = 12
"""Places of the 10-5 system that say how the scalp lies around an electrode."""
SHAPING = ("conductivity_s_per_m", "skull_share", "skull_max_mm", "mesh_level", "cortex_surface")
"""Settings that a head depends on."""


@dataclass(frozen=True)
class Plan:
    """How one head differs from the template; lengths in mm.

    Attributes
    ----------
    ratio : float
        Brain over skull conductivity.
    skull_mm, skull_share : float
        As in the settings of the head.
    size : float
        All lengths over the template's.
    surface : str
        Where the sources lie.
    seed : int
        Of the places of the electrodes.
    """

    ratio: float
    skull_mm: float
    skull_share: float
    size: float
    surface: str
    seed: int


@cache
def template_head(names: tuple[str, ...] = STANDARD_19) -> Head:
    """The head of the settings in force, as the analysis uses it."""
    settings = load_settings(LABEL).head
    return _kept(template_file(names), lambda: build_head(settings, names))


def template_file(names: tuple[str, ...] = STANDARD_19) -> Path:
    """Where the template head is kept."""
    return FOLDER / f"head-{_checksum(load_settings(LABEL).head, *names)}.npz"


@cache
def other_heads(n: int = 6, seed: int = SEED) -> tuple[Sources, ...]:
    """Heads to simulate with; built once and kept under `bench/`.

    Conductivities, skull, size and the places of the electrodes differ from
    the template and from head to head. Fewer heads are the first of more.
    """
    return tuple(Sources.of_head(_other(plan)) for plan in plans(n, seed))


def plans(n: int, seed: int) -> list[Plan]:
    """Draw the heads, all within the limits above.

    Steps of the golden ratio spread the few conductivities over their range.
    """
    made = []
    for number in range(n):
        rng = np.random.default_rng([seed, number])
        share = (0.25 + number * (5**0.5 - 1) / 2) % 1
        made.append(
            Plan(
                ratio=float(RATIO[0] * (RATIO[1] / RATIO[0]) ** share),
                skull_mm=float(rng.uniform(*SKULL_MM)),
                skull_share=float(rng.uniform(*SKULL_SHARE)),
                size=float(rng.uniform(*SIZE)),
                surface="white" if number % 2 else "mid",
                seed=seed + number,
            )
        )
    return made


def _other(plan: Plan) -> Head:
    settings = _settings(plan)
    path = FOLDER / f"other-head-{_checksum(settings, plan)}.npz"
    return _kept(path, lambda: _built(plan, settings))


def _settings(plan: Plan) -> HeadSettings:
    base = load_settings(LABEL).head
    layers = base.conductivity_s_per_m
    skull = Conductivity(brain=layers.brain, skull=layers.brain / plan.ratio, scalp=layers.scalp)
    # Solved at the template's size and then scaled, so the skull is scaled back before.
    return base.model_copy(
        update={
            "conductivity_s_per_m": skull,
            "skull_max_mm": plan.skull_mm / plan.size,
            "skull_share": plan.skull_share,
            "cortex_surface": plan.surface,
        }
    )


def _built(plan: Plan, settings: HeadSettings) -> Head:
    """Solve with misplaced electrodes, scale.

    A dipole's potential falls with the square of a conductor's size, all else
    being alike.
    """
    cortex = template_cortex(settings.cortex_surface)
    place = _misplaced(plan.seed)
    layers, conductivity = read_layers(settings), settings.conductivity_s_per_m
    free = solve_bem(layers, conductivity, cortex["position_mm"], place)
    gain = np.einsum("esd,sd->es", free, cortex["normal"]) / plan.size**2
    cortex["position_mm"] = cortex["position_mm"] * plan.size
    cortex["area_mm2"] = cortex["area_mm2"] * plan.size**2
    return Head(names=STANDARD_19, gain=gain, electrode_mm=place * plan.size, **cortex)


def _misplaced(seed: int) -> np.ndarray:
    """Places of the 19 on the template, each moved along the scalp; shape (19, 3), mm."""
    import mne

    names = mne.channels.make_standard_montage(MONTAGE).ch_names
    scalp = template_electrodes(names)
    rng = np.random.default_rng(seed)
    return np.array([_moved(scalp[names.index(name)], scalp, rng) for name in STANDARD_19])


def _moved(place: np.ndarray, scalp: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A place 5-10 mm away, in the plane of the places around it."""
    nearest = np.argsort(np.linalg.norm(scalp - place, axis=1))[:NEAR]
    normal = np.linalg.svd(scalp[nearest] - place)[2][-1]
    away = rng.standard_normal(3)
    along = away - (away @ normal) * normal
    return place + rng.uniform(*MISPLACED_MM) * along / np.linalg.norm(along)


def _kept(path: Path, build) -> Head:
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        save_head(build(), path)
    return load_head(path)


def _checksum(settings: HeadSettings, *facts: object) -> str:
    """Of the facts and of the code that turns them into a head."""
    chosen = [getattr(settings, name) for name in SHAPING]
    code = b"".join(Path(m.__file__).read_bytes() for m in (solver, template))
    own = "".join(inspect.getsource(f) for f in (_built, _misplaced, _moved))
    return hashlib.sha256(code + repr((chosen, facts, own)).encode()).hexdigest()[:12]
