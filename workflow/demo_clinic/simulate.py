"""One sitting: everything that an electrode hears, and what went into it."""

from dataclasses import dataclass

import numpy as np

from aftersit.protocol import Protocol
from demo_clinic import alpha, background, bursts, eyes, faults, muscle
from demo_clinic.noise import band_power, bump, generator
from demo_clinic.plan import Burst, block_span, bursts_of, level_of, target_spans, tiles
from demo_clinic.sitting import Person, Sitting
from demo_clinic.sources import Sources
from demo_clinic.spans import alternating, complement, gate, levels

REFERENCE_SHARE = 0.3
"""Part of the mean of T7 and T8 that reaches linked ears; a guess, gone at average reference."""
DROWSY_ALPHA_DB = -10.0
DROWSY_THETA_UV2 = 40.0
ROLLING_UV = 70.0
BLINK_UV = 130.0
SACCADE_UV = 25.0


@dataclass(frozen=True)
class Simulated:
    """A recording before it is written.

    Attributes
    ----------
    signal_uv : ndarray, shape (n_electrodes, n_samples)
    extra_uv : dict of ndarray, shape (n_samples,)
        Channels that are no electrodes: ECG, EOG.
    truth : dict
        What was put in, for the truth file.
    arrays : dict of ndarray
        The same second by second.
    """

    signal_uv: np.ndarray
    extra_uv: dict[str, np.ndarray]
    truth: dict
    arrays: dict[str, np.ndarray]


class Studio:
    """What all parts of one sitting share: its random streams, length and sources."""

    def __init__(
        self, sitting: Sitting, person: Person, protocol: Protocol, sources: Sources, seed: int
    ):
        self.sitting, self.person, self.protocol = sitting, person, protocol
        self.sources, self.seed = sources, seed
        self.rate_hz = sitting.rate_hz
        self.n_samples = round(sitting.minutes * 60 * sitting.rate_hz)
        self.within = (0.0, sitting.minutes * 60)

    def rng(self, part: str) -> np.random.Generator:
        return generator(self.seed, self.sitting.upload, part)

    def gate(self, spans, ramp_s: float = 0.2) -> np.ndarray:
        return gate(list(spans), self.n_samples, self.rate_hz, ramp_s)

    @property
    def eyes_spans(self) -> list[tuple[tuple[float, float], str]]:
        return [(block_span(b), b.eyes or self.sitting.eyes) for b in self.sitting.blocks]


def simulate(
    sitting: Sitting, person: Person, protocol: Protocol, sources: Sources, seed: int
) -> Simulated:
    """Simulate one sitting.

    Raises
    ------
    AftersitError
        The protocol names a region that the head does not have.
    """
    studio = Studio(sitting, person, protocol, sources, seed)
    planned = bursts_of(sitting, protocol, sources, seed)
    brain, levels_told = _brain(studio, planned)
    blinks = eyes.blink_times(studio.rng("blink times"), _blink_rates(studio))
    lids, gaze = _eye_traces(studio, blinks)
    outside = _eyes_at_electrodes(studio, lids, gaze)
    tense, activity = _muscles(studio)
    outside += tense
    signal = _recorded(studio, brain + outside)
    truth = _truth(studio, levels_told, blinks, activity)
    arrays = _by_second(studio, brain, signal, lids)
    return Simulated(signal, _extra(studio, lids), truth, arrays)


def _alpha_uv2(person: Person, eyes_state: str) -> float:
    return person.alpha_uv2 * (10 ** (alpha.EYES_OPEN_DB / 10) if eyes_state == "open" else 1)


def _brain(studio: Studio, planned: list[Burst]) -> tuple[np.ndarray, list[dict]]:
    """Cortical activity in uV and the levels of its bursts."""
    person, drowsy = studio.person, studio.gate(studio.sitting.drowsy, 3.0)
    size = levels(
        [(span, _alpha_uv2(person, state) ** 0.5) for span, state in studio.eyes_spans],
        studio.n_samples,
        studio.rate_hz,
    )
    size *= 1 - drowsy * (1 - 10 ** (DROWSY_ALPHA_DB / 20))
    total = background.simulate(
        studio.rng("background"),
        studio.sources,
        studio.n_samples,
        studio.rate_hz,
        person.background_uv2,
    )
    total += alpha.simulate(
        studio.rng("alpha"), studio.sources, studio.rate_hz, person.alpha_hz, size
    )
    if studio.sitting.drowsy:
        total += background.theta(
            studio.rng("theta"), studio.sources, drowsy, studio.rate_hz, DROWSY_THETA_UV2
        )
    told = _add_bursts(studio, planned, total)
    return total, told


def background_in(studio: Studio, band_hz: tuple[float, float], eyes_state: str) -> np.ndarray:
    """Sensor covariance (uV^2) of background and alpha in a band."""
    person = studio.person
    pink = band_power(background.density(person.background_uv2), *band_hz)
    share = band_power(bump(person.alpha_hz, alpha.WIDTH_HZ), *band_hz)
    posterior = alpha.covariance(studio.sources)
    return pink * studio.sources.cortex + share * _alpha_uv2(person, eyes_state) * posterior


def _add_bursts(studio: Studio, planned: list[Burst], total: np.ndarray) -> list[dict]:
    """Add bursts to `total` in place; returns what was added.

    One oscillator per condition goes through the whole sitting, so that its
    phase does not restart with a block.
    """
    told = []
    for condition in dict.fromkeys(burst.condition for burst in planned):
        own = [burst for burst in planned if burst.condition == condition]
        where = bursts.place(studio.sources, own[0].region, own[0].hemisphere)
        size = np.zeros(studio.n_samples)
        for burst in own:
            other = background_in(studio, burst.band_hz, burst.eyes)
            power = bursts.power_for(level_of(burst), where, other)
            size += np.sqrt(power) * studio.gate(burst.active)
            told.append(_told(studio, burst, power))
        total += bursts.simulate(
            studio.rng(f"burst {condition}"), where, own[0].band_hz, size, studio.rate_hz
        )
    return told


def _told(studio: Studio, burst: Burst, power: float) -> dict:
    own = band_power(background.density(studio.person.background_uv2), *burst.band_hz)
    return {
        "condition": burst.condition,
        "region": burst.region,
        "hemisphere": burst.hemisphere,
        "band_hz": list(burst.band_hz),
        "eyes": burst.eyes,
        "level_db": round(level_of(burst), 3),
        "rise_db": round(burst.rise_db, 3),
        "level_over_own_background_db": round(10 * float(np.log10(power / own)), 3),
        "reached": burst.reached,
        "met_s": [list(span) for span in burst.met],
        "active_s": [list(span) for span in burst.active],
    }


def _awake(studio: Studio, state: str) -> list[tuple[float, float]]:
    """Stretches with this eyes state; cut out where the person is drowsy."""
    spans = [span for span, own in studio.eyes_spans if own == state]
    dozing = studio.sitting.drowsy
    return [
        part
        for span in spans
        for part in complement([d for d in dozing if span[0] <= d[0] and d[1] <= span[1]], span)
    ]


def _blink_rates(studio: Studio) -> list[tuple[tuple[float, float], float]]:
    often = studio.sitting.blinks_per_minute
    spans = [(span, often) for span in _awake(studio, "open")]
    return sorted(spans + [(span, often / 10) for span in _awake(studio, "closed")])


def _eye_traces(studio: Studio, blinks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lids in uV at Fp1/Fp2 and gaze in uV at F8."""
    n, rate = studio.n_samples, studio.rate_hz
    lids = eyes.blink_trace(studio.rng("blinks"), blinks, n, rate, BLINK_UV)
    open_eyes = studio.gate(_awake(studio, "open"))
    gaze = eyes.saccade_trace(studio.rng("saccades"), open_eyes, rate, SACCADE_UV, 20)
    dozing = studio.gate(studio.sitting.drowsy, 3.0)
    gaze += eyes.rolling_trace(studio.rng("rolling"), dozing, rate, ROLLING_UV)
    return lids, gaze


def _eyes_at_electrodes(studio: Studio, lids: np.ndarray, gaze: np.ndarray) -> np.ndarray:
    up = eyes.topography(studio.sources, eyes.UP, ("Fp1", "Fp2"))
    right = eyes.topography(studio.sources, eyes.RIGHT, ("F8",))
    return np.outer(up, lids) + np.outer(right, gaze)


def clench_spans(studio: Studio) -> list[tuple[float, float]]:
    """When the jaw is tensed, over all blocks."""
    spans = []
    for number, block in enumerate(studio.sitting.blocks, 1):
        if block.clench:
            rng = studio.rng(f"clench {number}")
            spans += alternating(rng, block_span(block), block.clench.on_s, block.clench.off_s)
    return spans


def _muscles(studio: Studio) -> tuple[np.ndarray, dict]:
    """Muscle in uV at the electrodes, and the activity of each muscle."""
    activity = {
        name: [(studio.within, level)] for name, level in studio.sitting.tension_uv2.items()
    }
    clenched = clench_spans(studio)
    for name, share in (("jaw-left", 1.0), ("jaw-right", 0.7)) if clenched else ():
        level = share * studio.sitting.clench_uv2
        activity.setdefault(name, []).extend((span, level) for span in clenched)
    total = np.zeros((len(studio.sources.electrodes), studio.n_samples))
    for name, own in activity.items():
        total += muscle.simulate(
            studio.rng(name), studio.sources, name, own, studio.n_samples, studio.rate_hz
        )
    return total, activity


def _recorded(studio: Studio, potential: np.ndarray) -> np.ndarray:
    """Against linked ears, with all faults."""
    wrong, names = studio.sitting.faults, studio.sources.electrodes
    n_rows, n, rate = len(names), studio.n_samples, studio.rate_hz
    ears = [names.index("T7"), names.index("T8")]
    signal = potential - REFERENCE_SHARE * potential[ears].mean(axis=0)
    signal += faults.mains(studio.rng("mains"), n_rows, n, rate, wrong.mains_uv)
    signal += faults.drift(studio.rng("drift"), n_rows, n, rate, wrong.drift_uv)
    signal += faults.amplifier(studio.rng("amplifier"), n_rows, n)
    if wrong.movement:
        signal += faults.movement(
            studio.rng("movement"), list(wrong.movement), n_rows, n, rate, 120.0
        )
    for name, at_s, size_uv in wrong.pops:
        signal[names.index(name)] += faults.pop(n, rate, at_s, size_uv)
    return _contacts(studio, signal)


def _contacts(studio: Studio, signal: np.ndarray) -> np.ndarray:
    """Noisy electrodes, then the dead one, which hears nothing at all."""
    wrong, names = studio.sitting.faults, studio.sources.electrodes
    rough = dict.fromkeys(wrong.bad, 150.0) | ({wrong.noisy: 60.0} if wrong.noisy else {})
    for name, size_uv in rough.items():
        signal[names.index(name)] += faults.bad_contact(
            studio.rng(f"contact {name}"), studio.n_samples, studio.rate_hz, size_uv
        )
    if wrong.dead:
        signal[names.index(wrong.dead)] = 0.0
    return signal


def _extra(studio: Studio, lids: np.ndarray) -> dict[str, np.ndarray]:
    n, rate = studio.n_samples, studio.rate_hz
    made = {}
    if "ECG" in studio.sitting.extra:
        made["ECG"] = faults.heart(studio.rng("heart"), n, rate)
    if "EOG" in studio.sitting.extra:
        noise = faults.drift(studio.rng("eog"), 1, n, rate, 10.0)[0]
        made["EOG"] = 1.6 * lids + noise + studio.rng("eog fast").standard_normal(n)
    return made


def _truth(studio: Studio, told: list[dict], blinks: np.ndarray, activity: dict) -> dict:
    sitting, wrong = studio.sitting, studio.sitting.faults
    blocks = dict(enumerate(sitting.blocks, 1))
    return {
        "invented": True,
        "story": sitting.story,
        "client": sitting.client,
        "rate_hz": sitting.rate_hz,
        "duration_s": studio.within[1],
        "target": [
            {"block": number, "tiles": tiles(spans, block_span(blocks[number]))}
            for number, spans in target_spans(sitting, studio.protocol, studio.seed)
        ],
        "bursts": told,
        "background_uv2_30_45_hz": studio.person.background_uv2,
        "alpha": {
            "peak_hz": studio.person.alpha_hz,
            "closed_uv2": _alpha_uv2(studio.person, "closed"),
            "open_uv2": round(_alpha_uv2(studio.person, "open"), 3),
        },
        "drowsy_s": [list(span) for span in sitting.drowsy],
        "blinks_s": blinks.tolist(),
        "muscle_uv2_30_45_hz": {
            name: [{"span_s": list(span), "level": level} for span, level in own]
            for name, own in activity.items()
        },
        "mains_hz": 50,
        "pops": [{"electrode": e, "at_s": at, "size_uv": size} for e, at, size in wrong.pops],
        "dead": [wrong.dead] if wrong.dead else [],
        "noisy": sorted({*wrong.bad, *([wrong.noisy] if wrong.noisy else [])}),
        "movement_s": [list(span) for span in wrong.movement],
    }


def _by_second(studio: Studio, brain: np.ndarray, signal: np.ndarray, lids: np.ndarray) -> dict:
    """Root mean square second by second: brain alone, all else, and the lids."""
    n_s, rate = int(studio.within[1]), studio.rate_hz

    def rms(x: np.ndarray) -> np.ndarray:
        cut = x[..., : n_s * rate].reshape(*x.shape[:-1], n_s, rate)
        return np.sqrt((cut**2).mean(axis=-1)).astype(np.float32)

    return {
        "electrodes": np.array(studio.sources.electrodes),
        "brain_rms_uv": rms(brain),
        "other_rms_uv": rms(signal - brain),
        "lids_rms_uv": rms(lids),
    }
