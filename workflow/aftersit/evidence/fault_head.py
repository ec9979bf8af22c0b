"""Deliberate faults in the head model."""

from dataclasses import replace

import numpy as np

from aftersit.evidence.fault_parts import scaled, with_argument
from aftersit.evidence.faults import Fault

HEAD = (
    Fault(
        "skull-conducts",
        ("head",),
        "the skull conducts as the scalp does",
        (
            (
                "aftersit.head.solver.solved_layers",
                with_argument(1, lambda c: c.model_copy(update={"skull": c.scalp})),
            ),
        ),
    ),
    Fault(
        "x-y-exchanged",
        ("head",),
        "two directions of a dipole are exchanged",
        (
            (
                "aftersit.head.solver.solve_bem",
                lambda f: lambda *a, **k: f(*a, **k)[..., [1, 0, 2]],
            ),
        ),
    ),
    Fault(
        "heard-alike",
        ("head",),
        "every source is heard alike, however deep",
        (("aftersit.evidence.given.Given.head", lambda p: _other_head(p, _heard_alike)),),
    ),
    Fault(
        "sources-mirrored",
        ("head",),
        "sources are put on the other side",
        (("aftersit.head.solver.solve_bem", with_argument(2, lambda p: p * [-1, 1, 1])),),
    ),
    Fault(
        "head-swapped",
        ("head", "inverse"),
        "left and right electrodes are exchanged",
        (("aftersit.evidence.given.Given.head", lambda p: _other_head(p, _swapped)),),
    ),
    Fault(
        "dropped-electrode",
        ("head", "inverse"),
        "one electrode's row is another's",
        (("aftersit.evidence.given.Given.head", lambda p: _other_head(p, _doubled)),),
    ),
    Fault(
        "inwards",
        ("head",),
        "sources point into the head",
        (("aftersit.evidence.given.Given.head", lambda p: _other_head(p, _inwards)),),
    ),
    Fault(
        "sides-exchanged",
        ("head", "inverse"),
        "left regions are called right",
        (("aftersit.evidence.given.Given.head", lambda p: _other_head(p, _sides)),),
    ),
    Fault(
        "conductivity-lost",
        ("head",),
        "the skull's conductivity lost a digit",
        (("aftersit.evidence.given.Given.settings", lambda p: _other_settings(p)),),
    ),
    Fault(
        "region-lost",
        ("head",),
        "one region of the atlas is lost",
        (
            (
                "aftersit.evidence.checks.head.region_titles",
                lambda f: lambda: dict(list(f().items())[1:]),
            ),
            ("aftersit.evidence.checks.head.half_keys", lambda f: lambda: f()[1:]),
        ),
    ),
    Fault(
        "skull-shrunk",
        ("head",),
        "the inner skull is a tenth too small",
        (
            (
                "aftersit.evidence.checks.head.read_layers",
                lambda f: lambda s: f(s).scaled(np.array([0.9, 0.9, 0.8])),
            ),
        ),
    ),
    Fault(
        "ray-to-the-far-side",
        ("head",),
        "rays stop at the far side of a surface",
        (
            (
                "aftersit.evidence.checks.head.distance_along",
                lambda f: lambda start, ray, s: f(start, -ray, s),
            ),
        ),
    ),
    Fault(
        "area-of-both-sides",
        ("head",),
        "triangles count with twice their area",
        (("aftersit.evidence.checks.head.vertex_areas", scaled(2)),),
    ),
)


def _other_head(sound, change):
    return property(lambda given: change(sound.func(given)))


def _swapped(head):
    order = [head.names.index(_partner(name)) for name in head.names]
    return replace(head, gain=head.gain[order], electrode_mm=head.electrode_mm[order])


_PARTNERS = {"Fp1": "Fp2", "F7": "F8", "F3": "F4", "T7": "T8", "C3": "C4", "P7": "P8",
             "P3": "P4", "O1": "O2"}  # fmt: skip


def _partner(name: str) -> str:
    both = _PARTNERS | {b: a for a, b in _PARTNERS.items()}
    return both.get(name, name)


def _doubled(head):
    gain = head.gain.copy()
    gain[head.names.index("O1")] = gain[head.names.index("Cz")]
    return replace(head, gain=gain)


def _heard_alike(head):
    centred = head.gain - head.gain.mean(axis=0)
    return replace(head, gain=centred / np.linalg.norm(centred, axis=0))


def _inwards(head):
    return replace(head, gain=-head.gain)


def _sides(head):
    return replace(head, hemisphere=np.where(head.hemisphere == "left", "right", "left"))


def _other_settings(sound):
    def broken(given):
        settings = sound.func(given)
        head = settings.head
        layers = head.conductivity_s_per_m.model_copy(update={"skull": 0.0006})
        drawn = head.plausible.model_copy(update={"brain_over_skull": (50.0, 80.0)})
        update = {"conductivity_s_per_m": layers, "plausible": drawn}
        return settings.model_copy(update={"head": head.model_copy(update=update)})

    return property(broken)
