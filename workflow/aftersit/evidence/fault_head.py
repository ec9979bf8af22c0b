"""Deliberate faults in head model and inverse."""

from dataclasses import replace

import numpy as np

from aftersit.evidence.fault_parts import returning, scaled, with_argument
from aftersit.evidence.faults import Fault

HEAD = (
    Fault(
        "skull-conducts",
        ("head",),
        "the skull conducts as the scalp does",
        (
            (
                "aftersit.head.solver._solution",
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
                lambda f: lambda *a, **k: _exchanged(f(*a, **k), k.get("solver", "mne")),
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


def _exchanged(free, name: str):
    """Of our own solver only, so that the other one disagrees."""
    return free[..., [1, 0, 2]] if name == "mne" else free


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


INVERSE = (
    Fault(
        "minimum-norm",
        ("inverse",),
        "the estimate is not standardised",
        (
            (
                "aftersit.head.sloreta.np.einsum",
                lambda f: (
                    lambda form, *a, **k: (
                        np.ones(a[0].shape[0]) if form == "sk,ks->s" else f(form, *a, **k)
                    )
                ),
            ),
        ),
    ),
    Fault(
        "no-average-reference",
        ("inverse",),
        "the average reference is lost",
        (("aftersit.head.sloreta.reference_basis", lambda f: lambda n: np.eye(n)[1:]),),
    ),
    Fault(
        "wrong-lambda2",
        ("inverse",),
        "lambda2 is the SNR and not one over its square",
        (
            (
                "aftersit.head.settings.HeadSettings.lambda2",
                lambda p: property(lambda s: float(s.snr)),
            ),
        ),
    ),
    Fault(
        "absolute-noise",
        ("inverse",),
        "regularisation does not follow the gain's scale",
        (("aftersit.head.sloreta.np.trace", returning(lambda m: 1e9)),),
    ),
    Fault(
        "sum-for-mean",
        ("inverse",),
        "a region measure is a sum and not a mean",
        (
            (
                "aftersit.head.regions.sloreta_matrices",
                lambda f: (
                    lambda head, good, keys, *a: (
                        f(head, good, keys, *a) * np.arange(1, len(keys) + 1)[:, None, None]
                    )
                ),
            ),
        ),
    ),
    Fault(
        "sides-of-measures",
        ("inverse",),
        "measures of left and right are exchanged",
        (
            (
                "aftersit.head.region_set.RegionSet.members",
                lambda f: lambda self, key, region, side: f(self, _other_side(key), region, side),
            ),
        ),
    ),
    Fault(
        "purity-of-amplitude",
        ("inverse",),
        "purity is told as amplitude",
        (("aftersit.evidence.checks.inverse.purities", lambda f: lambda *a: np.sqrt(f(*a))),),
    ),
    Fault(
        "purity-of-one",
        ("inverse",),
        "every electrode set is told to be as pure",
        (
            (
                "aftersit.evidence.checks.inverse.purities",
                lambda f: lambda *a: np.full(len(a[1]), 0.1),
            ),
        ),
    ),
    Fault(
        "limit-unreached",
        ("inverse",),
        "the limit of purity is told three times too high",
        (
            (
                "aftersit.head.selective._one_trade",
                lambda f: lambda *a: (3 * (t := f(*a))[0], *t[1:]),
            ),
        ),
    ),
    Fault(
        "leakage-of-signals",
        ("inverse",),
        "leakage is the correlation of signals, not of powers",
        (("aftersit.evidence.checks.inverse.co_variation", lambda f: lambda *a: np.sqrt(f(*a))),),
    ),
    Fault(
        "kernel-ten-times",
        ("inverse",),
        "the kernel is in other units",
        (("aftersit.head.sloreta.sloreta_kernel", scaled(10)),),
    ),
    Fault(
        "single-electrode",
        ("inverse",),
        "an electrode of its own weight stands in the kernel",
        (
            (
                "aftersit.head.sloreta.sloreta_kernel",
                lambda f: lambda *a: f(*a) + 0.2 * np.abs(f(*a)),
            ),
        ),
    ),
    Fault(
        "two-peaks",
        ("inverse",),
        "a map is taken to show two places apart",
        (("aftersit.evidence.checks.inverse.np.linalg.norm", lambda f: _near_zero(f)),),
    ),
)


def _other_side(key: str) -> str:
    name, _, side = key.rpartition("-")
    return f"{name}-{ {'left': 'right', 'right': 'left'}.get(side, side) }"


def _near_zero(norm):
    """Distances of two ends told as none; everything else as it is."""

    def broken(x, *a, **k):
        found = norm(x, *a, **k)
        return 0 * found if np.shape(x) == (2, 3) else found

    return broken
