"""Deliberate faults in the inverse and in what regions hear."""

import numpy as np

from aftersit.evidence.fault_parts import returning, scaled
from aftersit.evidence.faults import Fault

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
