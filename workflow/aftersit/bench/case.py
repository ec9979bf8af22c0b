"""What a simulated sitting holds, as data."""

from dataclasses import dataclass, field
from typing import Literal, Self

import numpy as np

from aftersit.bench.heads import SEED
from demo_clinic.spans import Span, complement

FAST_HZ = (35.0, 45.0)
N_HEADS = 6


@dataclass(frozen=True)
class Tension:
    """Muscles that tense together.

    Attributes
    ----------
    level_db : float
        All of them over the brain (bursts not counted), in `band_hz` at the
        region measure `at`, mean over the time that they are tense.
    muscles : tuple of str
        Of `demo_clinic.muscle.MUSCLES`; each about as strong.
    at : str
        A region measure as the analysis has it: template head, all electrodes.
    spans : tuple of (start_s, stop_s) | None
        When; None is all the time.
    wax : float
        Spread of the (log-normal) waxing and waning while tense.
    """

    level_db: float
    muscles: tuple[str, ...] = ("jaw-left", "jaw-right")
    at: str = "insula-right"
    band_hz: tuple[float, float] = FAST_HZ
    spans: tuple[Span, ...] | None = None
    wax: float = 0.25


@dataclass(frozen=True)
class Rhythm:
    """True bursts of a region.

    Attributes
    ----------
    at : str
        The region, as its measure is called.
    band_hz : tuple of float
    rise_db : float
        Brain with bursts over brain without, in the band at the region's own
        measure, while they are on.
    spans : tuple of (start_s, stop_s)
    """

    at: str
    band_hz: tuple[float, float]
    rise_db: float
    spans: tuple[Span, ...]


@dataclass(frozen=True)
class Drowsiness:
    """Drowsy spells: alpha drops out, theta rises, eyes roll."""

    spans: tuple[Span, ...]
    alpha_db: float = -10.0
    theta_uv2: float = 40.0
    rolling_uv: float = 70.0


@dataclass(frozen=True)
class Case:
    """One simulated sitting; powers in uV^2 at average reference.

    Attributes
    ----------
    seed : int
        Of everything random in it.
    minutes, rate_hz : float
    head : int
        Which of the other heads.
    background_uv2 : float
        Power in 30-45 Hz, mean over the electrodes.
    alpha_hz, alpha_uv2 : float
        Peak, and power at O1 and O2 with closed eyes.
    beta_hz, beta_uv2 : float
        A central rhythm: peak, and power at C3 and C4.
    alpha_wanes_db : float
        Spread of its slow rises and falls, over half a minute and longer.
    eyes : str
        `open` or `closed`.
    eyes_other : tuple of (start_s, stop_s)
        When they are the other way.
    blinks_per_minute : float
        With open eyes; a tenth of it with closed ones.
    blink_uv, saccade_uv : float
        At Fp1 and Fp2; at F8.
    heart_uv : float
        Largest R wave at the scalp; 0 for none.
    mains_uv, drift_uv, contact_uv : float
        Root mean square; the last is each electrode's own rough noise.
    tensions, rhythms, drowsiness
        See there.
    """

    seed: int
    minutes: float = 5.0
    rate_hz: float = 256.0
    head: int = 0
    background_uv2: float = 0.8
    alpha_hz: float = 10.0
    alpha_uv2: float = 60.0
    beta_hz: float = 19.0
    beta_uv2: float = 2.0
    alpha_wanes_db: float = 0.0
    eyes: Literal["open", "closed"] = "closed"
    eyes_other: tuple[Span, ...] = ()
    blinks_per_minute: float = 15.0
    blink_uv: float = 130.0
    saccade_uv: float = 25.0
    heart_uv: float = 0.0
    mains_uv: float = 2.0
    drift_uv: float = 15.0
    contact_uv: float = 0.6
    tensions: tuple[Tension, ...] = ()
    rhythms: tuple[Rhythm, ...] = ()
    drowsiness: Drowsiness = field(default=Drowsiness(()))

    def eyes_spans(self, state: str) -> list[Span]:
        """When the eyes are open, or closed, all spells of drowsiness included."""
        other = sorted(self.eyes_other)
        return complement(other, (0.0, self.minutes * 60)) if state == self.eyes else other

    @classmethod
    def drawn(cls, seed: int, **given: object) -> Self:
        """A person and a recording drawn by the seed; what is given stays as given.

        The spread of people is a guess, with the fast background round that of
        paralysed people (Whitham et al. 2007: 0.5-1.1 uV^2 in 30-45 Hz).
        """
        rng = np.random.default_rng([SEED, seed])
        drawn = {
            "background_uv2": 0.75 * rng.lognormal(0, 0.3),
            "alpha_hz": rng.uniform(8.6, 11.4),
            "alpha_uv2": 45 * rng.lognormal(0, 0.7),
            "beta_hz": rng.uniform(15, 23),
            "beta_uv2": 2 * rng.lognormal(0, 0.5),
            "blinks_per_minute": rng.uniform(6, 25),
            "blink_uv": rng.uniform(60, 180),
            "saccade_uv": rng.uniform(10, 35),
            "heart_uv": rng.choice([0.0, 5.0, 10.0, 20.0]),
            "mains_uv": 2 * rng.lognormal(0, 0.7),
            "drift_uv": 12 * rng.lognormal(0, 0.5),
            "contact_uv": rng.uniform(0.3, 1.0),
            "eyes": str(rng.choice(["open", "closed"])),
            "head": seed % N_HEADS,
        }
        numbers = {k: v if isinstance(v, str | int) else float(v) for k, v in drawn.items()}
        return cls(seed=seed, **{**numbers, **given})
