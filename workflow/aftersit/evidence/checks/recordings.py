"""Open recordings: their headers, and what the whole pipeline makes of them."""

from collections.abc import Iterable
from typing import TypeVar

import numpy as np

from aftersit.electrodes import STANDARD_19, read_labels
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.open_clinic import Found, found_in
from aftersit.evidence.open_results import POSTERIOR
from aftersit.evidence.result import NotRunError, Result, at_least, at_most, both, near, same
from aftersit.head.spectra import cross_spectrum
from aftersit.intake.edf_header import EdfHeader, read_edf_header

T = TypeVar("T")
UNCLEANED, PAIR = "S001R01", "person at rest and in mental arithmetic"
PAPERS = {"mental": ("rest", "arithmetic"), "motor": ("eyes open", "eyes closed")}
"""Set of recordings -> what was done in it."""


def needed(found: T, what: str) -> T:
    """What was found; a recording that is not there proves nothing, and fails nothing.

    Raises
    ------
    NotRunError
        Nothing was found.
    """
    if not found:
        raise NotRunError(f"the folder holds no {what}")
    return found


def some(given: Given, *kinds: str) -> list[Found]:
    """Recordings of some kinds."""
    return [r for r in found_in(given.open_data) if r.doing in kinds]


def uncleaned(given: Given) -> Found:
    """The minute with open eyes that nobody cleaned."""
    found = [r for r in some(given, "eyes open") if r.path.stem == UNCLEANED]
    return needed(found, f"recording {UNCLEANED}")[0]


def headers(given: Given, *kinds: str) -> list[EdfHeader]:
    """Their headers."""
    return [read_edf_header(r.path) for r in some(given, *kinds)]


def pairs(given: Given, first: str, second: str) -> list[tuple[Found, Found]]:
    """Recordings of people of whom both kinds are there."""
    one, two = ({r.sitting.client: r for r in some(given, kind)} for kind in (first, second))
    return [(one[person], two[person]) for person in sorted(one.keys() & two.keys())]


def _listed(people: Iterable[str]) -> str:
    return "person " + " or ".join(sorted(people))


def scalp_uv(one: Found) -> tuple[np.ndarray, float]:
    """The 19 at average reference, read by another library; uV and Hz."""
    import mne

    raw = mne.io.read_raw_edf(one.path, preload=True, verbose="ERROR")
    montage = read_labels(raw.ch_names, 16)
    labels = {c.name: c.label for c in montage.channels if c.kind == "EEG"}
    x = raw.get_data(picks=[labels[name] for name in STANDARD_19]) * 1e6
    return x - x.mean(axis=0), float(raw.info["sfreq"])


def band_uv2(one: Found, low_hz: float, high_hz: float, seconds: float = 1e9) -> dict[str, float]:
    """Power of each electrode by our spectra."""
    x, rate_hz = scalp_uv(one)
    spectrum = cross_spectrum(x, rate_hz, [(0.0, seconds)], 2.0, 0.5)
    power = np.diag(spectrum.band_covariance(low_hz, high_hz))
    return dict(zip(STANDARD_19, power.tolist(), strict=True))


@check("recordings", "open-filters", "Filters that the headers state are read from the files")
def open_filters(given: Given, fact: Fact) -> Result:
    stated = [h.signals[0].filters for h in headers(given, "rest", "arithmetic")]
    found = {(f.highpass_hz, f.lowpass_hz, *f.notches_hz) for f in stated if f.lowpass_hz}
    needed(found, "recording of mental arithmetic")
    return same(sorted(found), [tuple(map(float, fact["hz"]))], number=True)


@check("recordings", "open-electrodes", "The 19 electrodes are found in every file, in one order")
def open_electrodes(given: Given, fact: Fact) -> Result:
    every = needed(headers(given, *PAPERS["mental"], *PAPERS["motor"]), "recording of the two sets")
    found = [read_labels([s.label for s in h.signals], 16).electrodes for h in every]
    right = [len(names) for names in found if names == list(STANDARD_19)]
    return near(right, [fact["electrodes"]] * len(every), unit="electrodes")


@check("recordings", "open-rates", "Rates are read, not assumed")
def open_rates(given: Given, fact: Fact) -> Result:
    rates = [{h.rate_hz(h.signals[0]) for h in headers(given, *kinds)} for kinds in PAPERS.values()]
    needed(rates[0] | rates[1], "recording of the two sets")
    unknown = (rates[0] - {fact["mental_hz"]}) | (rates[1] - set(fact["motor_hz"]))
    return same(sorted(unknown), [], number=True)


@check("recordings", "open-processed", "Every recording ends in a record and in its pages")
def open_processed(given: Given, fact: Fact) -> Result:
    needed(found_in(given.open_data), "recording of the two sets")
    results = given.open_results
    pages = len(list(results.clinic.reports.glob("M*/*/clinician.html")))
    n = len(results.recordings)
    return near([results.exit_code, len(results.records), pages], [0, n, n])


@check("recordings", "open-identity", "Nothing that the headers say of people reaches raw BIDS")
def open_identity(given: Given, fact: Fact) -> Result:
    needed(found_in(given.open_data), "recording of the two sets")
    files = [p for p in given.open_results.clinic.bids.rglob("*") if p.is_file()]
    found = {t for p in files for t in fact["planted"] if t.encode() in p.read_bytes()}
    return same(sorted(found), [])


@check("recordings", "open-tail", "Exact zeros at the end are a bad span and no flat electrode")
def open_tail(given: Given, fact: Fact) -> Result:
    sitting = uncleaned(given).sitting
    quality = given.open_results.quality(sitting)
    still = [s.start_s for s in quality.bad_spans if s.reason == "constant"]
    guard_s = given.settings.clean.spans.guard_s
    return near([*still, len(quality.good)], [fact["tail_s"] - guard_s, 19], abs=0.02)


@check("recordings", "open-fast-power", "Fast power of the uncleaned minute is as computed apart")
def open_fast_power(given: Given, fact: Fact) -> Result:
    power = band_uv2(uncleaned(given), 30, 48, 60.0)
    return near([power[n] for n in fact["uv2"]], list(fact["uv2"].values()), rel=0.05, unit="uV^2")


@check("recordings", "open-muscle", "The uncleaned minute is suspect of muscle at T7, T8 and Fp1")
def open_muscle(given: Given, fact: Fact) -> Result:
    sitting = uncleaned(given).sitting
    told = {place: f["verdict"] for place, f in given.open_results.muscle()[sitting].items()}
    return same(told, dict.fromkeys(("T7", "T8", "Fp1"), "suspect"))


@check("recordings", "open-residual", "Muscle that the authors' cleaning left is found where it is")
def open_residual(given: Given, fact: Fact) -> Result:
    rest = {r.sitting.client[2:]: r for r in some(given, "rest")}
    ours, theirs, loudest = [], [], []
    for person, (place, level) in fact["people"].items():
        if person in rest:
            power = band_uv2(rest[person], 30, 45)
            ours.append(power[place])
            theirs.append(level)
            loudest.append(max(power, key=power.get) == place)
    needed(ours, f"rest of {_listed(fact['people'])}")
    told = near(ours, theirs, rel=0.05, unit="uV^2")
    return both(told, same(all(loudest), True))


@check(
    "recordings",
    "open-residual-level",
    "Its level in the record stands out, and is no 'no sign'",
    fact="open-residual",
)
def open_residual_level(given: Given, fact: Fact) -> Result:
    rest = {r.sitting.client[2:] for r in some(given, "rest")}
    needed(rest & set(fact["steady"]), f"rest of {_listed(fact['steady'])}")
    found = given.open_results.muscle()
    at = {
        person: finding[place]
        for person, (place, _) in fact["people"].items()
        for sitting, finding in found.items()
        if (sitting.client, sitting.number) == (f"MA{person}", 1) and place in finding
    }
    # Muscle that comes in spikes is left out as bad seconds before the level is taken.
    steady = [at[person]["level_db"] for person in fact["steady"] if person in at]
    levels = at_least(steady, 6, "dB over paralysed people")
    return both(levels, same("no-sign-found" in {f["verdict"] for f in at.values()}, False))


@check("recordings", "open-free", "People without residual muscle lie near the paralysed level")
def open_free(given: Given, fact: Fact) -> Result:
    rest = {r.sitting.client[2:]: r for r in some(given, "rest")}
    from aftersit.muscle import yardstick

    chosen = [band_uv2(rest[p], 30, 45) for p in fact["people"] if p in rest]
    needed(chosen, f"rest of {_listed(fact['people'])}")
    worst = [max(power.values()) / yardstick.POWER_UV2 for power in chosen]
    return at_most(worst, fact["times"], "times the paralysed level")


@check("recordings", "open-alpha", "Posterior alpha falls from rest to mental arithmetic in most")
def open_alpha(given: Given, fact: Fact) -> Result:
    needed(pairs(given, *PAPERS["mental"]), PAIR)
    changes = list(given.open_results.changes_db("rest", "arithmetic", "alpha", POSTERIOR).values())
    falls = at_least(np.mean(np.array(changes) < 0), fact["share_at_least"], "of the people")
    return both(falls, at_most(np.median(changes), -0.3, "dB (median)"))


@check(
    "recordings", "open-alpha-scipy", "Alpha's change at O1 is that of scipy over the same seconds"
)
def open_alpha_scipy(given: Given, fact: Fact) -> Result:
    both_done = needed(pairs(given, *PAPERS["mental"]), PAIR)
    results, ours, theirs = given.open_results, [], []
    for pair in both_done:
        ours.append(-np.subtract(*[results.level_db(r.sitting, "alpha", ("O1",)) for r in pair]))
        theirs.append(-np.subtract(*[10 * np.log10(_scipy_alpha(results, r)) for r in pair]))
    return near(ours, theirs, abs=fact["db"], unit="dB")


def _scipy_alpha(results, one: Found) -> float:
    """Mean power of O1 in the 2 s windows that no bad span touches."""
    from scipy.signal import welch

    x, rate_hz = scalp_uv(one)
    row, step = x[STANDARD_19.index("O1")], int(2 * rate_hz)
    good = np.ones(len(row), bool)
    for span in results.quality(one.sitting).bad_spans:
        good[int(span.start_s * rate_hz) : int(np.ceil(span.stop_s * rate_hz))] = False
    starts = [s for s in range(0, len(row) - step, step // 2) if good[s : s + step].all()]
    f, density = welch(np.array([row[s : s + step] for s in starts]), rate_hz, nperseg=step)
    return float(density.mean(axis=0)[(f >= 8) & (f < 13)].sum() * f[1])


@check(
    "recordings",
    "open-eyes",
    "Posterior alpha rises from open to closed eyes, where both are there",
)
def open_eyes(given: Given, fact: Fact) -> Result:
    needed(pairs(given, *PAPERS["motor"]), "person with open and with closed eyes")
    changes = given.open_results.changes_db("eyes open", "eyes closed", "alpha", POSTERIOR)
    return at_least(np.median(list(changes.values())), 0, "dB (median)")
