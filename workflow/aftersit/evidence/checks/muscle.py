"""Muscle: published spectra of paralysed people, planted muscle, planted brain."""

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, at_least, at_most, between, both, near, same
from aftersit.muscle import yardstick
from aftersit.muscle.cortex import cortex_covariance, passed_share
from aftersit.muscle.model import fast_filter, muscle_pattern, ranges_of, upper_ranges
from aftersit.muscle.remove import remove_fast_muscle
from aftersit.muscle.verdict import block_finding
from aftersit.muscle.windows import Spectra, densities_in
from aftersit.quality import Carried

RATE_HZ, SECONDS = 256.0, 60


class Recorded:
    """What the windows need to know of a recording."""

    def __init__(self, high_hz: float = 115.0):
        self.carried, self.mains_hz = Carried(low_hz=0.5, high_hz=high_hz), None


def brain(seed: int, slope: float = 3.0, level_uv2: float = 0.84) -> np.ndarray:
    """Equally active cortex, f^-slope from 10 Hz on, `level_uv2` in 30-45 Hz at an electrode."""
    n = round(SECONDS * RATE_HZ)
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    shape = np.maximum(f, 10.0) ** -slope
    density = level_uv2 * shape / (shape[(f >= 30) & (f < 45)].mean() * 15)
    values, vectors = np.linalg.eigh(cortex_covariance(STANDARD_19))
    root = vectors * np.sqrt(np.maximum(values, 0))
    white = np.fft.rfft(np.random.default_rng(seed).standard_normal((19, n)))
    return root @ np.fft.irfft(white * np.sqrt(density * RATE_HZ / 2), n)


def jaw(seed: int, size_uv: float = 20.0) -> np.ndarray:
    """White noise at T7 and a little at its neighbours."""
    part = {"T7": 1.0, "F7": 0.6, "P7": 0.3, "C3": 0.2}
    pattern = np.array([part.get(name, 0.0) for name in STANDARD_19])
    n = round(SECONDS * RATE_HZ)
    return np.outer(pattern, size_uv * np.random.default_rng(seed).standard_normal(n))


def learnt(given: Given, x: np.ndarray, high_hz: float = 115.0):
    """The muscle's pattern of a signal; None when the recording ends too low."""
    recorded, settings = Recorded(high_hz), given.settings.clean.muscle
    windows = densities_in(Spectra(x, RATE_HZ), ranges_of(recorded.carried, settings), recorded)
    usable = np.ones(windows.start_s.size, bool)
    return muscle_pattern(windows, usable, STANDARD_19, settings)


def without_muscle(given: Given, x: np.ndarray) -> np.ndarray:
    """The signal without what its pattern takes out, average reference."""
    out = x - x.mean(axis=0)
    remove_fast_muscle(out, RATE_HZ, learnt(given, x))
    return out


def tense(given: Given) -> tuple[np.ndarray, np.ndarray]:
    """A tense jaw over brain, and what is left of it."""
    x = brain(11) + jaw(12)
    return x, given.once("tense jaw", lambda: without_muscle(given, x))


def band(x: np.ndarray, low_hz: float, high_hz: float) -> np.ndarray:
    """Power by scipy's welch."""
    from scipy.signal import welch

    f, density = welch(x - x.mean(axis=0), RATE_HZ, nperseg=512)
    return density[:, (f >= low_hz) & (f < high_hz)].sum(axis=1) * (f[1] - f[0])


def db(after: np.ndarray, before: np.ndarray) -> np.ndarray:
    """Ratio in dB."""
    return 10 * np.log10(after / before)


@check(
    "cleaning",
    "muscle-free-level",
    "The yardstick is the paralysed people's, from the digitised figure",
    needs=("nmb_eeg",),
)
def muscle_free_level(given: Given, fact: Fact) -> Result:
    ours = [yardstick.POWER_UV2, *yardstick.RANGE_UV2]
    return near(ours, [digitised(), *fact["uv2_30_45_range"]], rel=0.03, unit="uV^2")


def digitised() -> float:
    """Mean over the six digitised traces, straight interpolation, 30-45 Hz, uV^2."""
    from nmb_eeg import NMB_EEG_From_WhithamEtAl as Traces

    f = np.arange(30.0, 45.0, 0.05)
    powers = []
    for trace in Traces.allsubjectdata:  # log10 of V^2/Hz, whatever its description says
        rising = trace[trace[:, 0].argsort()]
        powers.append(10 ** np.interp(f, rising[:, 0], rising[:, 1]) * 1e12)
    return float(np.mean(powers) * 15)


@check(
    "cleaning",
    "muscle-free-line",
    "The yardstick's line has the traces' slope and level at 40 Hz",
    fact="muscle-free-level",
)
def muscle_free_line(given: Given, fact: Fact) -> Result:
    f = np.array([20.0, 40.0, 60.0])
    density = yardstick.density_uv2_per_hz(f)
    slope = np.polyfit(np.log10(f), np.log10(density), 1)[0]
    found = [density[1], slope]
    return near(found, [fact["uv2_per_hz_at_40_hz"], fact["slope_20_60_hz"]], rel=0.03)


@check(
    "cleaning",
    "muscle-free-spectra",
    "Spectra of paralysed people lose nothing, whatever their slope",
    fact="muscle-free-level",
)
def muscle_free_spectra(given: Given, fact: Fact) -> Result:
    losses = []
    for slope in fact["slopes"]:
        noise = 0.3 * np.random.default_rng(4).standard_normal((19, round(SECONDS * RATE_HZ)))
        x = brain(5, -slope) + noise
        losses.append(np.abs(db(band(without_muscle(given, x), 30, 45), band(x, 30, 45))).max())
    return at_most(losses, 0.15, "dB lost")


@check("cleaning", "jaw", "Muscle at T7 goes, and brain at Cz stays")
def jaw_goes(given: Given, fact: Fact) -> Result:
    x, out = tense(given)
    before, after, wanted = (band(s, 30, 45) for s in (x, out, brain(11)))
    t7, cz = STANDARD_19.index("T7"), STANDARD_19.index("Cz")
    return both(
        at_least(db(before[t7], wanted[t7]), fact["times_low_db"], "dB of muscle at T7"),
        at_most(db(after[t7], wanted[t7]), 3, "dB left"),
        near(db(after[cz], wanted[cz]), 0, abs=0.2, unit="dB at Cz"),
    )


@check(
    "cleaning",
    "muscle-verdict",
    "Tense jaw is suspect, muscle-free cortex shows no sign",
    fact="jaw",
)
def muscle_verdict(given: Given, fact: Fact) -> Result:
    told = [_verdict(given, x) for x in (brain(11) + jaw(12), brain(11))]
    return same(told, ["suspect", "no-sign-found"])


def _verdict(given: Given, x: np.ndarray) -> str:
    from aftersit.muscle.account import Measured, evidence_of
    from aftersit.quality import Electrode, Quality

    pattern = learnt(given, x)
    quality = Quality(
        rate_hz=RATE_HZ,
        duration_s=SECONDS,
        mains_hz=None,
        carried=Recorded().carried,
        electrodes=[Electrode(name=n, good=True, reasons=()) for n in STANDARD_19],
        bad_spans=(),
        components=(),
        keep=(np.eye(19) - 1 / 19).tolist(),
        muscle=np.zeros((19, 19)).tolist(),
        eyes=np.zeros((19, 19)).tolist(),
        muscle_pattern=pattern,
        usable_s=SECONDS,
        scorable=True,
    )
    place = np.diag([float(n == "T7") for n in STANDARD_19])
    settings = given.settings.clean.muscle
    windows, found = evidence_of(x, [Measured("T7", place, (30.0, 45.0))], quality, settings)
    usable = np.ones(windows.start_s.size, bool)
    return block_finding(found["T7"], usable, settings.verdict).verdict


@check(
    "cleaning",
    "no-sign-is-not-none",
    "A recording that ends at 45 Hz learns no muscle and claims none",
    fact="above-45",
)
def ends_low(given: Given, fact: Fact) -> Result:
    ranges = upper_ranges(Recorded(fact["lowpass_hz"]).carried, given.settings.clean.muscle)
    found = [ranges, learnt(given, brain(2) + jaw(3), fact["lowpass_hz"])]
    return same(found, [None, None])


@check("cleaning", "passed-power", "Halving all amplitudes passes a quarter of the power")
def passed_power(given: Given, fact: Fact) -> Result:
    matrix = np.diag(np.linspace(0.3, 2.1, 19))
    return near(passed_share(matrix, 0.5 * np.eye(19), STANDARD_19), fact["share"], rel=1e-9)


@check(
    "cleaning",
    "alpha-left-alone",
    "Taking muscle out leaves theta and alpha within 0.2 dB",
    fact="jaw",
)
def alpha_left_alone(given: Given, fact: Fact) -> Result:
    x, out = tense(given)
    off = [np.abs(db(band(out, *b), band(x, *b))).max() for b in ((4, 8), (8, 13))]
    return at_most(off, 0.2, "dB")


@check(
    "cleaning",
    "cortex-centred",
    "The muscle filter takes the average reference and keeps 18 dimensions",
    fact="rank",
)
def cortex_centred(given: Given, fact: Fact) -> Result:
    plain = fast_filter(None, 19)
    return near(
        [np.linalg.matrix_rank(plain), np.abs(plain.sum(axis=0)).max()],
        [fact["of_19"], 0],
        abs=1e-12,
    )


@check("cleaning", "edge", "The muscle's level rises from the vertex to the edge of the scalp")
def edge(given: Given, fact: Fact) -> Result:
    x = brain(11) + jaw(12)
    level = band(x, 30, 45)
    row = [level[STANDARD_19.index(name)] for name in ("T7", "C3", "Cz")]
    return between(db(row[0], row[2]), fact["edge_over_vertex_db"], 60, "dB")
