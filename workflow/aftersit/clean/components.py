"""Independent components: fitted, labelled by two voices, and the bad ones taken out."""

import warnings
from collections.abc import Collection
from dataclasses import dataclass
from typing import Self

import numpy as np

from aftersit.clean.fit_copy import FitCopy
from aftersit.clean.iclabel import CLASSES, label_components
from aftersit.clean.second_voice import Voice, eye_voice
from aftersit.clean.settings import ComponentSettings
from aftersit.quality import Carried, Component, ComponentFound

RANK_LIMIT = 1e-5
"""Eigenvalue over the largest below which a dimension holds nothing."""


@dataclass(frozen=True)
class Decomposition:
    """Activations = unmixing @ signal; signal = mixing @ activations.

    Attributes
    ----------
    unmixing : ndarray, shape (n_components, n_electrodes)
    mixing : ndarray, shape (n_electrodes, n_components)
    converged : bool
        Whether the fit came within its tolerance before its last iteration.
    """

    unmixing: np.ndarray
    mixing: np.ndarray
    converged: bool


@dataclass(frozen=True)
class EyeComponents:
    """Those labelled as eyes: activations = filters @ signal; their part = maps @ activations.

    Attributes
    ----------
    filters : ndarray, shape (n_components, n_electrodes)
    maps : ndarray, shape (n_electrodes, n_components)
    """

    filters: np.ndarray
    maps: np.ndarray


@dataclass(frozen=True)
class Removal:
    """Components with their labels, and the three matrices of `Quality`."""

    components: tuple[ComponentFound, ...]
    keep: np.ndarray
    muscle: np.ndarray
    eyes: np.ndarray
    eye_components: EyeComponents
    in_design: bool = True
    converged: bool = True

    @classmethod
    def nothing(cls, n: int) -> Self:
        """No components: only the average reference of n electrodes."""
        zeros = np.zeros((n, n))
        none = EyeComponents(np.zeros((0, n)), np.zeros((n, 0)))
        return cls((), np.eye(n) - 1 / n, zeros, zeros, none)


def decompose(x: np.ndarray, settings: ComponentSettings, seed: int) -> Decomposition:
    """Independent components of average-referenced signal by extended infomax.

    Picard without its orthogonality constraint and with switching densities
    reaches extended infomax's solution (Ablin et al. 2018, IEEE Trans Signal
    Process 66:4040).

    Parameters
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        1-100 Hz, uV.
    settings : ComponentSettings
        Iterations and tolerance.
    seed : int
        Of the first rotation.
    """
    from aftersit.clean.solver import picard

    whitening, colouring = whiten(x)
    # Neighbouring samples say nearly the same; without order, any of them will do.
    step = -(-x.shape[1] // settings.fit_samples)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        _, rotation, _ = picard(
            whitening @ x[:, ::step],
            fun=_LogCosh(),
            check_fun=False,
            ortho=False,
            extended=True,
            whiten=False,
            centering=False,
            max_iter=settings.max_iterations,
            tol=settings.tolerance,
            random_state=seed,
        )
    unmixing = rotation @ whitening
    mixing = colouring @ np.linalg.inv(rotation)
    order = np.argsort(-(mixing**2).sum(axis=0) * _power(unmixing, x), kind="stable")
    converged = not any("did not converge" in str(w.message) for w in caught)
    return Decomposition(unmixing[order], mixing[:, order], converged)


class _LogCosh:
    """Picard's own density 'tanh' in single precision, in a third of the time.

    The errors of 1e-7 cancel in the means over all samples that the fit looks at.
    """

    def log_lik(self, y: np.ndarray) -> np.ndarray:
        """Log cosh, up to a constant."""
        size = np.abs(y).astype(np.float32)
        out = np.exp(-2 * size)
        out += 1
        np.log(out, out=out)
        out += size
        return out.astype(float)

    def score_and_der(self, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Its first and second derivative."""
        score = np.tanh(y.astype(np.float32)).astype(float)
        slope = score * score
        np.subtract(1, slope, out=slope)
        return score, slope


def whiten(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Whitening (rank, n) and its inverse (n, rank); the rank is that of the signal."""
    values, vectors = np.linalg.eigh(x @ x.T / x.shape[1])
    held = values > RANK_LIMIT * values[-1]
    values, vectors = values[held], vectors[:, held]
    # Signs of eigenvectors are free; the largest entry is made positive.
    vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(axis=0), np.arange(len(values))])
    return (vectors / np.sqrt(values)).T, vectors * np.sqrt(values)


def _power(unmixing: np.ndarray, x: np.ndarray) -> np.ndarray:
    covariance = x @ x.T / x.shape[1]
    return ((unmixing @ covariance) * unmixing).sum(axis=1)


def label_and_remove(
    copy: FitCopy,
    names: list[str],
    found: Decomposition,
    holds: Carried,
    settings: ComponentSettings,
) -> Removal:
    """Label the components and build what the cleaned signal keeps.

    Parameters
    ----------
    copy : FitCopy
        What was decomposed.
    names : list of str
        Its electrodes.
    found : Decomposition
        From `decompose`.
    holds : Carried
        What the recording carries; short of the network's design only some labels count.
    settings : ComponentSettings
        Probabilities from which a component is removed.
    """
    activations = found.unmixing @ copy.x
    probabilities = label_components(found.mixing, activations, names, copy.rate_hz)
    power = (found.mixing**2).sum(axis=0) * (activations**2).mean(axis=1)
    share = power / power.sum()
    eye = eye_voice(found.mixing, activations, copy.x, copy.eog, names, copy.rate_hz, settings)
    designed = in_design(copy.rate_hz, holds, settings)
    counted = CLASSES if designed else settings.outside_design
    components = tuple(
        _judge(row, eye[i], found.mixing[:, i], share[i], counted, settings)
        for i, row in enumerate(probabilities)
    )
    eyes = [c.removed and c.label == "eye" for c in components]
    own = EyeComponents(found.unmixing[eyes], found.mixing[:, eyes])
    return Removal(components, *_matrices(components, found), own, designed, found.converged)


def in_design(rate_hz: float, holds: Carried, settings: ComponentSettings) -> bool:
    """Whether a recording holds what the labels' network was made for."""
    return rate_hz >= settings.design_rate_hz and holds.high_hz >= settings.design_high_hz


def _judge(
    probabilities: np.ndarray,
    voice: Voice,
    topography: np.ndarray,
    share: float,
    counted: Collection[Component],
    settings: ComponentSettings,
) -> ComponentFound:
    """The network's label, unless the voice knows better what the component is."""
    label = CLASSES[int(np.argmax(probabilities))]
    probability = float(probabilities.max())
    removed = label in counted and probability >= settings.least(label)
    if voice.speaks and not removed:
        label, removed = voice.label, True
        probability = max(float(probabilities[CLASSES.index(label)]), voice.strength)
    return ComponentFound(
        label=label,
        probability=round(min(probability, 1.0), 4),
        removed=removed,
        variance_share=round(float(share), 6),
        topography=tuple(np.round(topography / np.abs(topography).max(), 4).tolist()),
    )


def _matrices(
    components: tuple[ComponentFound, ...], found: Decomposition
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    n = len(found.mixing)

    def part(chosen: list[bool]) -> np.ndarray:
        return found.mixing[:, chosen] @ found.unmixing[chosen]

    average = np.eye(n) - 1 / n
    keep = average - part([c.removed for c in components])
    muscle = part([c.removed and c.label == "muscle" for c in components])
    eyes = part([c.removed and c.label == "eye" for c in components])
    return keep, muscle, eyes
