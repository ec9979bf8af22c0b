"""Cleaning: planted faults, mains, components, and what is left of a signal."""

import numpy as np

from aftersit.clean import drowsy, filters, iclabel, mains
from aftersit.clean.components import decompose, label_and_remove, whiten
from aftersit.clean.fit_copy import FitCopy
from aftersit.clean.measure import find_bad_electrodes
from aftersit.clean.sitting import Sitting
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, at_least, at_most, both, near, same
from aftersit.evidence.simulated import (
    NAMES,
    SETTINGS,
    Recording,
    band_power,
    blinks,
    change_db,
    pink,
    quiet,
)
from aftersit.quality import Carried

RATE_HZ = 256.0
WIDE = Carried(low_hz=0.5, high_hz=115)


def judged(recording: Recording) -> dict[str, list[str]]:
    """Bad electrodes with their reasons, high-passed as in the stage."""
    sitting = Sitting.read(recording.raw(), SETTINGS)
    sitting.x, drift = filters.without_drift(sitting.x, RATE_HZ, SETTINGS.high_pass_hz)
    return dict(find_bad_electrodes(sitting, drift, WIDE)[0].reasons)


@check(
    "cleaning", "planted-faults", "A flat, a noisy and an unrelated electrode are found, each alone"
)
def planted_faults(given: Given, fact: Fact) -> Result:
    base, rng = quiet(60), np.random.default_rng(21)
    n = base.x.shape[1]
    planted = {
        "C3": ("flat", base.changed("C3", 0.1 * rng.standard_normal(n))),
        "P4": ("noisy", base.changed("P4", base.row("P4") + 25 * rng.standard_normal(n))),
        "F4": ("unrelated", base.changed("F4", 8 * pink(rng, n, RATE_HZ))),
    }
    found = {name: judged(recording) for name, (_, recording) in planted.items()}
    return same(found, {name: {name: [why]} for name, (why, _) in planted.items()})


@check(
    "cleaning",
    "no-false-faults",
    "Nineteen good electrodes with blinks stay good",
    fact="planted-faults",
)
def no_false_faults(given: Given, fact: Fact) -> Result:
    recording = quiet(60, number=5)
    recording.x += blinks(recording, 150, 4)
    return same(judged(recording), {})


@check(
    "cleaning", "robust-reference", "One electrode with 1 mV of noise changes the others by < 1 %"
)
def robust_reference(given: Given, fact: Fact) -> Result:
    from aftersit.clean.carried import ChannelLimits
    from aftersit.clean.run import clean_recording

    base = quiet(60)
    rng = np.random.default_rng(6)
    loud = base.changed("Fp2", base.row("Fp2") + 1000 * rng.standard_normal(base.x.shape[1]))
    cleaned = clean_recording(loud.raw(), ChannelLimits(), 50.0, SETTINGS, 20260301)
    kept = [name for name in NAMES if name != "Fp2"]
    if list(cleaned.names) != kept:
        return same(list(cleaned.names), kept)
    rows = base.x[[NAMES.index(name) for name in kept]]
    before = band_power(rows - rows.mean(axis=0), RATE_HZ, 8, 13)
    after = band_power(cleaned.data_uv, RATE_HZ, 8, 13)
    off = np.abs(np.sqrt(after / before) - 1)
    return at_most(np.median(off), fact["amplitude_share"], "of the amplitude")


@check("cleaning", "mains-found", "Mains is found at 50 or 60 Hz, whatever the sheet says")
def mains_found(given: Given, fact: Fact) -> Result:
    found = []
    for at_hz, prior_hz in ((49.93, 50), (60.04, 50), (49.96, 60)):
        recording = quiet(30)
        x = recording.x + 4 * np.sin(2 * np.pi * at_hz * recording.t + 0.7)
        found.append(mains.find_mains(*filters.spectra(x, RATE_HZ), prior_hz, SETTINGS.mains))
    return near([f or 0 for f in found], fact["hz"], unit="Hz")


@check(
    "cleaning",
    "mains-removed",
    "Removing mains leaves the bands beside it within 0.1 dB",
    fact="mains-removed",
)
def mains_removed(given: Given, fact: Fact) -> Result:
    recording = quiet(60)
    x = recording.x + 8 * np.sin(2 * np.pi * 49.9 * recording.t)
    out = mains.remove_mains(x, RATE_HZ, [50.0], SETTINGS.mains.window_s)
    off = [
        np.abs(change_db(band_power(out, RATE_HZ, *band), band_power(recording.x, RATE_HZ, *band)))
        for band in ((8, 13), (30, 45), (45, 48), (52, 60))
    ]
    t = recording.t
    pure = mains.remove_mains(7 * np.sin(2 * np.pi * 50.08 * t)[None], RATE_HZ, [50.0], 4.0)
    left = np.abs(pure[0, 512:-512]).max() / 7
    return both(
        at_most(np.max(off), fact["beside_db"], "dB"), at_most(left, 0.01, "of a pure sinusoid")
    )


@check("cleaning", "unmixing", "Sharp and flat sources come apart, as extended infomax promises")
def unmixing(given: Given, fact: Fact) -> Result:
    rng = np.random.default_rng(8)
    sources = np.vstack([rng.laplace(size=(3, 20000)), rng.uniform(-1, 1, (3, 20000))])
    mixing = rng.standard_normal((6, 6))
    found = decompose(mixing @ sources, SETTINGS.components, 3)
    return at_most(amari(found.unmixing @ mixing), fact["distance_at_most"], "Amari distance")


def amari(gain: np.ndarray) -> float:
    """Distance of a gain matrix from a permutation, 0..1 (Amari et al. 1996, NIPS 8:757)."""
    size, n = np.abs(gain), len(gain)
    rows = (size.sum(axis=1) / size.max(axis=1) - 1).sum()
    columns = (size.sum(axis=0) / size.max(axis=0) - 1).sum()
    return float((rows + columns) / (2 * n * (n - 1)))


@check("cleaning", "rank", "The average reference lowers the rank by one, and no more")
def rank(given: Given, fact: Fact) -> Result:
    x = np.random.default_rng(8).standard_normal((19, 5000)) * np.arange(1, 20)[:, None]
    ours = len(whiten(x - x.mean(axis=0))[0])
    return near([ours, np.linalg.matrix_rank(x - x.mean(axis=0))], [fact["of_19"]] * 2)


@check("cleaning", "classes", "Component classes stand in the network's own order")
def classes(given: Given, fact: Fact) -> Result:
    from mne_icalabel.config import ICA_LABELS_TO_MNE

    theirs = [label.split()[0].lower() for label in ICA_LABELS_TO_MNE]
    ours = [{"mains": "line"}.get(name, name) for name in iclabel.CLASSES]
    order = [same(ours, fact["order"]), same(theirs, fact["order"])]
    return Result(order[0].expected, "none", order[0].measured, all(o.passed for o in order), False)


@check("cleaning", "labels", "Class probabilities add up to one, and a blink is an eye")
def labels(given: Given, fact: Fact) -> Result:
    found, x = given.once("with blinks", _with_blinks)
    probabilities = iclabel.label_components(found.mixing, found.unmixing @ x, NAMES, RATE_HZ)
    eye = probabilities[0, iclabel.CLASSES.index("eye")]
    return both(
        near(probabilities.sum(axis=1), np.ones(len(probabilities)), abs=1e-5),
        at_least(eye, fact["eye_at_least"], "eye"),
    )


def _with_blinks():
    recording = quiet(40)
    x = recording.x + blinks(recording, 120, 3)
    x = filters.band_pass(x - x.mean(axis=0), RATE_HZ, 1, 100, 3)
    return decompose(x, SETTINGS.components, 11), x


@check("cleaning", "blinks", "Blinks go from Fp1, and the back of the head stays")
def blinks_go(given: Given, fact: Fact) -> Result:
    found, x = given.once("with blinks", _with_blinks)
    copy = FitCopy(x, np.zeros((0, x.shape[1])), RATE_HZ)
    out = label_and_remove(copy, NAMES, found, WIDE, SETTINGS.components)
    left = ((out.keep @ x) ** 2).mean(axis=1) / (x**2).mean(axis=1)
    return both(
        at_most(left[NAMES.index("Fp1")], fact["fp1_at_most"], "of Fp1"),
        at_least(left[NAMES.index("Pz")], fact["pz_at_least"], "of Pz"),
    )


@check("cleaning", "common-reference", "What is kept holds nothing that all electrodes share")
def common_reference(given: Given, fact: Fact) -> Result:
    found, x = given.once("with blinks", _with_blinks)
    copy = FitCopy(x, np.zeros((0, x.shape[1])), RATE_HZ)
    out = label_and_remove(copy, NAMES, found, WIDE, SETTINGS.components)
    ones = np.ones(19)
    rest = np.abs(np.concatenate([out.keep @ ones, ones @ out.keep, out.eyes @ ones])).max()
    rank_left = np.linalg.matrix_rank(out.keep, tol=1e-8)
    removed = sum(c.removed for c in out.components)
    return both(at_most(rest, 1e-9), near(rank_left, 18 - removed, unit="dimensions"))


@check(
    "cleaning",
    "drowsy-bands",
    "Drowsy signs' alpha is A^2/2 of a sine, and its theta none of it",
    fact="tone",
)
def drowsy_bands(given: Given, fact: Fact) -> Result:
    t = np.arange(31 * 250) / 250
    x = 7 * np.sin(2 * np.pi * 10.25 * t + 0.4)
    alpha, theta = drowsy.band_steps([x], 250, 250, (drowsy.ALPHA_HZ, drowsy.THETA_HZ))[:, 0]
    return both(
        near(alpha, np.full(len(alpha), fact["uv2_at_7_uv"]), rel=0.01, unit="uV^2"),
        at_most(theta.max(), 0.005, "uV^2"),
    )


@check("cleaning", "midline-theta", "Theta at the front midline alone is no drowsy sign")
def midline_theta(given: Given, fact: Fact) -> Result:
    from aftersit.clean.slow_eyes import slow_copy

    recording = quiet(80, 250.0)
    theta = 12 * np.sin(2 * np.pi * 5.6 * recording.t) * (recording.t > 40)
    rises = []
    for wide in (False, True):
        x = recording.x.copy()
        for i, name in enumerate(NAMES):
            if wide or name == "Fz":
                x[i] += theta * (-1) ** i
        copy = slow_copy(x, NAMES, 250.0)
        signs = drowsy.measure_drowsy(
            x - x.mean(axis=0), NAMES, 250.0, np.zeros(x.shape[1], bool), copy, None
        )
        rises.append(np.median(signs.theta_db[21:]) - np.median(signs.theta_db[:19]))
    return both(
        at_most(rises[0], fact["focal_db_at_most"], "dB"),
        at_least(rises[1], fact["wide_db_at_least"], "dB"),
    )
