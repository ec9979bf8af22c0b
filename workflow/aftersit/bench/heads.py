"""Heads that are not the template: what the analysis assumes must not be what made the data."""

import hashlib
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.head import atlas, model, solver, template
from aftersit.head.model import MONTAGE, Head, build_head, load_head, save_head
from aftersit.head.settings import Conductivity, HeadSettings
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
"""Neighbours that a potential between electrodes is interpolated from."""


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
    facts = [load_settings(LABEL).head.model_dump(), *names]
    return FOLDER / f"head-{_checksum(facts)}.npz"


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
    path = FOLDER / f"other-head-{_checksum([settings.model_dump(), asdict(plan)])}.npz"
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
    """Solve at all 10-5 places, read between them, scale.

    A dipole's potential falls with the square of a conductor's size, all else
    being alike.
    """
    import mne

    names = tuple(mne.channels.make_standard_montage(MONTAGE).ch_names)
    dense = build_head(settings, names)
    place = _misplaced(dense, plan.seed)
    gain = _between(dense, place)
    return replace(
        dense,
        names=STANDARD_19,
        gain=gain / plan.size**2,
        electrode_mm=place * plan.size,
        position_mm=dense.position_mm * plan.size,
        area_mm2=dense.area_mm2 * plan.size**2,
    )


def _misplaced(dense: Head, seed: int) -> np.ndarray:
    """Places of the 19, each moved along the scalp; shape (19, 3)."""
    rng = np.random.default_rng(seed)
    places = []
    for name in STANDARD_19:
        place = dense.electrode_mm[dense.names.index(name)]
        away = rng.standard_normal(3)
        nearest = np.argsort(np.linalg.norm(dense.electrode_mm - place, axis=1))[:NEAR]
        normal = np.linalg.svd(dense.electrode_mm[nearest] - place)[2][-1]
        along = away - (away @ normal) * normal
        places.append(place + rng.uniform(*MISPLACED_MM) * along / np.linalg.norm(along))
    return np.array(places)


def _between(dense: Head, place: np.ndarray) -> np.ndarray:
    """Gain at places between electrodes, by thin-plate splines; shape (n_places, n_sources)."""
    from scipy.interpolate import RBFInterpolator

    return np.ascontiguousarray(
        RBFInterpolator(dense.electrode_mm, dense.gain, neighbors=NEAR)(place)
    )


def _kept(path: Path, build) -> Head:
    if not path.exists():
        path.parent.mkdir(exist_ok=True)
        save_head(build(), path)
    return load_head(path)


def _checksum(facts: object) -> str:
    """Of the facts and of the code that turns them into a head."""
    code = b"".join(Path(m.__file__).read_bytes() for m in (atlas, model, solver, template))
    own = Path(__file__).read_bytes()
    return hashlib.sha256(repr(facts).encode() + code + own).hexdigest()[:12]
