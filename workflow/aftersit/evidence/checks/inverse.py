"""Inverse: the published properties of sLORETA, mne's own solution, what regions hear."""

import numpy as np
import scipy.linalg

from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, alike, at_most, between, both, near
from aftersit.head import regions as region_code
from aftersit.head import sloreta
from aftersit.head.cortex import even_cortex
from aftersit.head.hearing import purities
from aftersit.head.leakage import co_variation
from aftersit.head.region_set import RegionSet
from aftersit.head.selective import trade

LAMBDA2 = 1 / 9
KEYS = ("insula-right", "cuneus-both", "precentral-left", "superiorfrontal-right")


def signal(seed: int = 20) -> np.ndarray:
    """Potentials of 19 electrodes in volts, unlike in size and correlated."""
    rng = np.random.default_rng(seed)
    return rng.normal(size=(19, 19)) @ rng.normal(scale=3e-6, size=(19, 40))


def matrices(given: Given, good: tuple[str, ...] | None = None) -> np.ndarray:
    """SLORETA matrices of the keys, shape (4, n, n)."""
    good = good or given.head.names
    return region_code.sloreta_matrices(given.head, good, KEYS, given.settings.head, RegionSet())


def power(forms: np.ndarray, x: np.ndarray) -> np.ndarray:
    """X' M x of each sample, shape (n_keys, n_samples)."""
    return np.einsum("it,kij,jt->kt", x, forms, x)


@check("inverse", "zero-error", "The map of any single source without noise peaks at that source")
def zero_error(given: Given, fact: Fact) -> Result:
    gain, wrong = given.head.gain, []
    for lambda2 in fact["lambda2"]:
        kernel = sloreta.sloreta_kernel(gain, lambda2)
        parts = np.array_split(given.coarse, 4)
        peaks = np.concatenate([np.abs(kernel @ gain[:, p]).argmax(axis=0) for p in parts])
        wrong.append((peaks != given.coarse).sum())
    return near(wrong, [0] * len(wrong), unit=f"of {len(given.coarse)} sources missed")


@check("inverse", "kernel", "The kernel equals mne's inverse operator, sample by sample")
def kernel(given: Given, fact: Fact) -> Result:
    import mne

    from aftersit.bench.library import inverse_operator, recording

    x = np.random.default_rng(4).normal(scale=2e-5, size=(19, 7))
    raw = recording(x, 256.0, given.head.names)
    operator = inverse_operator(given.mne_forward, raw, 0.2e-6)
    theirs = mne.minimum_norm.apply_inverse_raw(
        raw, operator, LAMBDA2, method="sLORETA", verbose="ERROR"
    ).data
    return alike(sloreta.sloreta_kernel(given.head.gain, LAMBDA2, 0.2e-6) @ x, theirs, rel=1e-8)


@check("inverse", "common-signal", "A signal that all electrodes share changes no region measure")
def common_signal(given: Given, fact: Fact) -> Result:
    common = np.random.default_rng(1).normal(scale=1e-3, size=40)
    forms = matrices(given)
    return alike(power(forms, signal() + common), power(forms, signal()), rel=1e-6)


@check(
    "inverse",
    "linked-ears",
    "Linked ears and average reference give the same region measures",
    fact="common-signal",
)
def linked_ears(given: Given, fact: Fact) -> Result:
    x, forms = signal(), matrices(given)
    linked = x - 0.5 * (x[7] + x[11])
    return alike(power(forms, linked), power(forms, x - x.mean(axis=0)), rel=1e-8)


@check("inverse", "lambda2", "Regularisation follows SNR: lambda2 = 1 / SNR^2")
def lambda2(given: Given, fact: Fact) -> Result:
    settings = given.settings.head.model_copy(update={"snr": 3})
    return near([settings.lambda2], [fact["at_snr_3"]], rel=1e-9)


@check(
    "inverse",
    "scale",
    "Scale of the gain does not matter; ten times the signal, hundred the power",
    fact="lambda2",
)
def scale(given: Given, fact: Fact) -> Result:
    gain, x, forms = given.head.gain, signal(), matrices(given)
    rows = [sloreta.sloreta_kernel(k * gain, LAMBDA2)[::50] for k in (1, 7)]
    ratio = power(forms, 10 * x).sum() / power(forms, x).sum()
    return both(alike(rows[1], rows[0], rel=1e-9), near(ratio, 100, rel=1e-9))


@check("inverse", "cross-talk", "One source's cross-talk has the shape of minimum norm's")
def cross_talk(given: Given, fact: Fact) -> Result:
    gain = given.head.gain
    seen = gain - gain.mean(axis=0)
    gram = seen @ seen.T
    noise = LAMBDA2 * np.trace(gram) / 18
    chosen = given.coarse[::10]
    norm = np.linalg.solve(gram + noise * np.eye(19), seen[:, chosen]).T @ seen
    ours = sloreta.sloreta_kernel(gain, LAMBDA2)[chosen] @ gain
    unit = [part / np.linalg.norm(part, axis=1, keepdims=True) for part in (ours, norm)]
    return alike(*unit, rel=1e-6)


@check(
    "inverse", "two-sources", "Two sources 40 mm apart blend: the map's peak lies away from both"
)
def two_sources(given: Given, fact: Fact) -> Result:
    head, missed = given.head, []
    kernel_rows = sloreta.sloreta_kernel(head.gain, LAMBDA2)
    for one in np.random.default_rng(3).choice(given.coarse, 60, replace=False):
        away = np.linalg.norm(head.position_mm - head.position_mm[one], axis=1)
        other = np.flatnonzero((away > 38) & (away < 42))[0]
        score = np.abs(kernel_rows @ (_unit(head.gain[:, one]) + _unit(head.gain[:, other])))
        ends = head.position_mm[[one, other]] - head.position_mm[score.argmax()]
        missed.append(np.linalg.norm(ends, axis=1).min() > 10)
    return between(np.mean(missed), fact["missed_at_least"], 1, "of the pairs, by over 10 mm")


def _unit(column: np.ndarray) -> np.ndarray:
    column = column - column.mean()
    return column / np.linalg.norm(column)


@check(
    "inverse",
    "regions-mne",
    "Region measures equal mne's source estimates averaged over labels",
    fact="kernel",
)
def regions_mne(given: Given, fact: Fact) -> Result:
    import mne

    from aftersit.bench.library import inverse_operator, recording

    raw = recording(signal(), 256.0, given.head.names)
    operator = inverse_operator(given.mne_forward, raw, given.settings.head.sensor_noise_uv * 1e-6)
    estimate = mne.minimum_norm.apply_inverse_raw(
        raw, operator, given.settings.head.lambda2, method="sLORETA", verbose="ERROR"
    )
    squared, head, theirs = estimate.copy(), given.head, []
    squared.data = estimate.data**2
    for key in KEYS:
        name, _, side = key.rpartition("-")
        inside = [_labelled(squared, head, name, s) for s in _sides(side)]
        theirs.append(np.concatenate(inside).mean(axis=0))
    return alike(power(matrices(given), signal()), np.array(theirs), rel=1e-6)


def _sides(side: str) -> tuple[str, ...]:
    return ("left", "right") if side == "both" else (side,)


def _labelled(estimate, head, name: str, side: str) -> np.ndarray:
    import mne

    vertices = head.vertex[(head.region == name) & (head.hemisphere == side)]
    label = mne.Label(vertices, hemi=f"{side[0]}h", name=name, subject="fsaverage")
    return estimate.in_label(label).data


@check("inverse", "fewer-electrodes", "Each dropped electrode lowers the mean purity")
def fewer_electrodes(given: Given, fact: Fact) -> Result:
    names = given.head.names
    whole = _mean_purity(given, names)
    dropped = [
        _mean_purity(given, tuple(n for n in names if n != d)) for d in ("T7", "Cz", "O2", "Fp1")
    ]
    return at_most(np.array(dropped) / whole, 1 - 1e-4, "times that of 19")


def _mean_purity(given: Given, good: tuple[str, ...]) -> float:
    cortex = even_cortex(given.head, good, given.settings.head.limit_noise_share)
    keys, settings = RegionSet().keys, given.settings.head
    forms = region_code.sloreta_matrices(given.head, good, keys, settings, RegionSet())
    return float(purities(forms, keys, RegionSet(), cortex).mean())


@check("inverse", "purity", "A measure's purity is the share that simulated even activity gives")
def purity(given: Given, fact: Fact) -> Result:
    head, rng, shares = given.head, np.random.default_rng(33), []
    activity = rng.normal(size=(head.gain.shape[1], 1500)).astype(np.float32)
    forms, everywhere = matrices(given), power(matrices(given), head.gain @ activity).mean(axis=1)
    for k, key in enumerate(KEYS):
        name, _, side = key.rpartition("-")
        inside = (head.region == name) & np.isin(head.hemisphere, _sides(side))
        alone = head.gain[:, inside] @ activity[inside]
        shares.append(power(forms[k : k + 1], alone).mean() / everywhere[k])
    cortex = even_cortex(head, head.names, given.settings.head.limit_noise_share)
    return near(purities(forms, KEYS, RegionSet(), cortex), shares, rel=0.15)


@check("inverse", "limit", "The limit of purity is the largest generalised eigenvalue (scipy)")
def limit(given: Given, fact: Fact) -> Result:
    from aftersit.head.atlas import half_keys

    head, settings = given.head, given.settings.head
    cortex = even_cortex(head, head.names, settings.limit_noise_share)
    keep = np.linalg.qr(np.c_[np.ones(19), np.eye(19)[:, 1:]])[0][:, 1:]
    whole = keep.T @ cortex.halves.sum(axis=0) @ keep
    noise = settings.limit_noise_share * np.trace(whole) / 18 * np.eye(18)
    key = "insula-right"
    inside = keep.T @ cortex.halves[half_keys().index(key)] @ keep
    theirs = scipy.linalg.eigh(inside, whole + noise, eigvals_only=True)[-1]
    return near(trade(cortex, [key], RegionSet()).limit, [theirs], rel=1e-8)


@check(
    "inverse",
    "not-a-place",
    "No filter on 19 electrodes makes the insula more than a tenth pure",
    fact="two-sources",
)
def not_a_place(given: Given, fact: Fact) -> Result:
    cortex = even_cortex(given.head, given.head.names, given.settings.head.limit_noise_share)
    found = trade(cortex, ["insula-right", "insula-left"], RegionSet()).limit
    return between(found, 0.01, fact["insula_at_most"])


@check(
    "inverse",
    "leakage",
    "Powers of two filters correlate by the squared correlation of the signals",
)
def leakage(given: Given, fact: Fact) -> Result:
    rng = np.random.default_rng(9)
    mixing, (w, v) = rng.normal(size=(6, 6)), rng.normal(size=(2, 6))
    covariance = mixing @ mixing.T
    r = w @ covariance @ v / np.sqrt((w @ covariance @ w) * (v @ covariance @ v))
    found = co_variation(np.stack([np.outer(w, w), np.outer(v, v)]), covariance)
    return near(found[0, 1], r**2, rel=1e-9)


@check("inverse", "own-side", "A source in the middle of a region is heard more by its own side")
def own_side(given: Given, fact: Fact) -> Result:
    head, ratios = given.head, []
    keys = [
        f"{r}-{s}" for r in ("precentral", "superiortemporal", "insula") for s in ("left", "right")
    ]
    forms = dict(
        zip(
            keys,
            region_code.sloreta_matrices(head, head.names, keys, given.settings.head, RegionSet()),
            strict=True,
        )
    )
    for key in keys:
        name, _, side = key.rpartition("-")
        other = f"{name}-{'right' if side == 'left' else 'left'}"
        inside = (head.region == name) & (
            head.position_mm[:, 0] * (1 if side == "right" else -1) > 0
        )
        heard = head.gain[:, inside] @ head.gain[:, inside].T
        ratios.append((forms[key] * heard).sum() / (forms[other] * heard).sum())
    return between(ratios, fact["times"], 1000, "times the other side")
