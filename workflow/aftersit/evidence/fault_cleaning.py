"""Deliberate faults in cleaning and in what is said of muscle."""

import numpy as np

from aftersit.evidence.fault_parts import returning
from aftersit.evidence.faults import Fault

CLEANING = (
    Fault(
        "nothing-is-bad",
        ("cleaning",),
        "no electrode is ever called bad",
        (
            (
                "aftersit.evidence.checks.cleaning.find_bad_electrodes",
                lambda f: lambda *a: _none_bad(f(*a)),
            ),
        ),
    ),
    Fault(
        "blinks-are-faults",
        ("cleaning",),
        "an electrode with blinks is called noisy",
        (
            (
                "aftersit.evidence.checks.cleaning.find_bad_electrodes",
                lambda f: lambda *a: _also_bad(f(*a), "Fp1"),
            ),
        ),
    ),
    Fault(
        "reference-of-all",
        ("cleaning",),
        "a bad electrode stays in the average reference",
        (("aftersit.clean.run.clean_recording", lambda f: lambda *a: _leaked(f(*a), a[0])),),
    ),
    Fault(
        "mains-from-sheet",
        ("cleaning",),
        "mains is taken from the sheet, not found",
        (("aftersit.clean.mains.find_mains", lambda f: lambda x, y, prior, s: prior),),
    ),
    Fault(
        "wide-notch",
        ("cleaning",),
        "mains is taken out with half of its neighbours",
        (("aftersit.clean.mains.remove_mains", lambda f: lambda x, *a: 0.5 * f(x, *a)),),
    ),
    Fault(
        "few-iterations",
        ("cleaning",),
        "components are not fitted",
        (
            (
                "aftersit.evidence.checks.cleaning.SETTINGS",
                lambda s: s.model_copy(
                    update={"components": s.components.model_copy(update={"max_iterations": 1})}
                ),
            ),
        ),
    ),
    Fault(
        "rank-kept",
        ("cleaning",),
        "the dimension of the reference is not dropped",
        (("aftersit.clean.components.RANK_LIMIT", returning(-1.0)),),
    ),
    Fault(
        "classes-exchanged",
        ("cleaning",),
        "eye and muscle change places among the classes",
        (("aftersit.clean.iclabel.CLASSES", lambda c: (c[0], c[2], c[1], *c[3:])),),
    ),
    Fault(
        "eyes-stay",
        ("cleaning",),
        "components are labelled and left in",
        (
            (
                "aftersit.clean.components._judge",
                lambda f: lambda *a: f(*a).model_copy(update={"removed": False}),
            ),
            (
                "aftersit.clean.components._matrices",
                lambda f: lambda *a: (np.eye(19), np.zeros((19, 19)), np.zeros((19, 19))),
            ),
        ),
    ),
    Fault(
        "drowsy-both-edges",
        ("cleaning",),
        "drowsy signs' alpha begins two hertz higher",
        (("aftersit.clean.drowsy.ALPHA_HZ", returning((10.5, 15.0))),),
    ),
    Fault(
        "theta-anywhere",
        ("cleaning",),
        "theta at Fz alone counts as widespread",
        (("aftersit.clean.drowsy.WIDESPREAD", returning(("Fz",) * 5)),),
    ),
    Fault(
        "yardstick-ten",
        ("cleaning",),
        "the muscle-free level is ten times too high",
        (
            ("aftersit.muscle.yardstick.POWER_UV2", lambda v: 10 * v),
            ("aftersit.muscle.yardstick._DENSITY_AT_40_HZ", lambda v: 10 * v),
        ),
    ),
    Fault(
        "muscle-everywhere",
        ("cleaning",),
        "half of all that is fast is taken for muscle",
        (
            ("aftersit.evidence.checks.muscle.remove_fast_muscle", lambda f: _halved),
            ("aftersit.evidence.checks.muscle.fast_filter", lambda f: lambda p, n: np.eye(n)),
        ),
    ),
    Fault(
        "muscle-stays",
        ("cleaning",),
        "muscle is learnt and left in",
        (("aftersit.evidence.checks.muscle.remove_fast_muscle", returning(None)),),
    ),
    Fault(
        "always-no-sign",
        ("cleaning",),
        "every block shows no sign of muscle",
        (("aftersit.muscle.verdict._verdict", returning(("no-sign-found", ()))),),
    ),
    Fault(
        "learns-below-45",
        ("cleaning",),
        "muscle is learnt where brain and muscle can't be told apart",
        (
            (
                "aftersit.evidence.checks.muscle.upper_ranges",
                returning(((30.0, 38.0), (38.0, 45.0))),
            ),
        ),
    ),
    Fault(
        "passed-amplitude",
        ("cleaning",),
        "what passes is told as amplitude",
        (("aftersit.evidence.checks.muscle.passed_share", lambda f: lambda *a: np.sqrt(f(*a))),),
    ),
    Fault(
        "electrodes-shuffled",
        ("cleaning",),
        "rows of electrodes are exchanged",
        (
            ("aftersit.evidence.checks.muscle.STANDARD_19", lambda n: tuple(reversed(n))),
            ("aftersit.evidence.checks.muscle.band", lambda f: lambda x, *a: f(x[::-1], *a)),
        ),
    ),
)


def _none_bad(found):
    found[0].reasons.clear()
    return found


def _also_bad(found, name: str):
    findings, typical = found
    findings.reasons[name] = ["noisy"]
    return findings, typical


def _leaked(cleaned, raw):
    from dataclasses import replace

    row = raw.get_data(picks=["Fp2"]) * 1e6 / 19
    return replace(cleaned, data_uv=cleaned.data_uv - row[:, : cleaned.data_uv.shape[1]])


def _halved(x, *_):
    x *= 0.5
