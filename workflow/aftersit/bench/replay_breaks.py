"""Changes after a break: coverage, false alarms and power, and open rest recordings."""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy import signal, stats

from aftersit.bench.heads import LABEL, template_head
from aftersit.bench.open_recordings import OpenRecording, open_recordings
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.electrodes import STANDARD_19
from aftersit.head.bands import bands
from aftersit.head.regions import region_measures
from aftersit.insight.breaks import Break
from aftersit.insight.elsewhere import RegionScan
from aftersit.insight.longrun import compare, compare_shares
from aftersit.insight.segments import segment_means
from aftersit.quality import Carried, Electrode, Quality
from aftersit.replay.run import Signal
from aftersit.settings import Settings, load_settings
from aftersit.sheet import Kind

SEED = 51100
CASES, QUICK_CASES = 2000, 200
PHI = (0.0, 0.5, 0.8, 0.95)
N, STEP_S, SPREAD_DB = 600, 0.5, 3.0
"""Values on each side, half a second apart, and how far they spread: as power over a second."""
CHANGES_DB = (0, 1, 2, 3)
SIDE_S = (30, 45, 60, 90)
SHARES = ((0.02, 0.02), (0.005, 0.05), (0.95, 0.98), (0.01, 0.99), (0.3, 0.3), (0.3, 0.6))
SHARE_CASES, SHARE_SEGMENTS = 500, (5, 10, 20, 50)
BOUT_S, DECISION_S = 2.0, 0.125
"""Of simulated reward: how long what is rarer lasts on average, and the update step."""


def breaks_tables(quick: bool) -> Iterator[Table]:
    """Simulated changes, then open rest recordings cut where nothing happened."""
    yield _simulated(QUICK_CASES if quick else CASES)
    yield _shares(SHARE_CASES // 10 if quick else SHARE_CASES)
    if open_recordings():
        yield _open(quick)


def autocorrelated(rng: np.random.Generator, phi: float, n_cases: int, n: int) -> np.ndarray:
    """AR(1) of unit size that has long been running, shape (n_cases, n)."""
    noise = rng.standard_normal((n_cases, n + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[:, 500:]


def _simulated(n_cases: int) -> Table:
    settings = load_settings(LABEL).replay.insight
    length = round(settings.segment_s / STEP_S)
    rows = []
    for phi in PHI:
        values = SPREAD_DB * autocorrelated(np.random.default_rng([SEED]), phi, n_cases, 2 * N)
        before, plain_after = values[:, :N], values[:, N:]
        means = [segment_means(side, length, 1.0) for side in (before, plain_after)]
        for change in CHANGES_DB:
            found = compare(means[0], means[1] + change, settings.change_cosines)
            plain = stats.ttest_ind(before, plain_after + change, axis=1).pvalue
            segments = stats.ttest_ind(means[0], means[1] + change, axis=1, equal_var=False).pvalue
            rows.append(
                {
                    "phi": phi,
                    "change_db": change,
                    "coverage_percent": _percent((found.low < change) & (change < found.high)),
                    "found_percent": _percent(found.p < 0.05),
                    "plain_t_percent": _percent(plain < 0.05),
                    "segment_t_percent": _percent(segments < 0.05),
                    "half_width_db": round(float(np.median(found.high - found.low)) / 2, 2),
                }
            )
    return Table(
        "changes",
        "Changes over a break, simulated: coverage of the 95 % interval and how many are found",
        rows,
        (
            f"{n_cases} cases a row; each side {N} values of AR(1), {STEP_S:g} s apart, spread "
            f"{SPREAD_DB:g} dB; seed {SEED}. Found at 0 dB is a false alarm.",
            "Beside: a plain t-test over all values, and Welch's over the same segments.",
        ),
    )


def bouts(
    rng: np.random.Generator, share: float, shape: tuple[int, int], steps: int, bout_s=BOUT_S
) -> np.ndarray:
    """Shares of segments of `steps` decisions that a chain of two states is on, of this shape.

    Stays in the rarer state last `bout_s` on average.
    """
    rare = min(share, 1 - share)
    leave = DECISION_S / bout_s
    enter = leave * rare / (1 - rare)
    on = np.empty((steps * shape[1], shape[0]), dtype=bool)
    now = rng.random(shape[0]) < rare
    for row, draw in zip(on, rng.random(on.shape), strict=True):
        row[:] = now
        now = np.where(now, draw >= leave, draw < enter)
    shares = on.T.reshape(*shape, steps).mean(axis=2)
    return shares if share <= 0.5 else 1 - shares


def _shares(n_cases: int) -> Table:
    settings = load_settings(LABEL).replay.insight
    steps, rows = round(settings.segment_s / DECISION_S), []
    for n in SHARE_SEGMENTS:
        for number, shares in enumerate(SHARES):
            rng = np.random.default_rng([SEED, n, number])
            sides = [bouts(rng, share, (n_cases, n), steps) for share in shares]
            pairs = zip(*sides, strict=True)
            found = [compare_shares(*pair, settings.change_cosines) for pair in pairs]
            low, high, p = np.array([(f.low, f.high, f.p) for f in found]).T
            change = shares[1] - shares[0]
            rows.append(
                {
                    "segments": n,
                    "before_percent": 100 * shares[0],
                    "after_percent": 100 * shares[1],
                    "coverage_percent": _percent((low <= change) & (change <= high)),
                    "found_percent": _percent(p < 0.05),
                    "narrowest_points": round(100 * float((high - low).min()), 1),
                    "half_width_points": round(50 * float(np.median(high - low)), 1),
                }
            )
    return Table(
        "target-changes",
        "Changes of the time in target, simulated: coverage of the 95 % interval, how many found",
        rows,
        (
            f"{n_cases} cases a row; segments of {settings.segment_s:g} s on each side; what is "
            f"rarer, reward or none, lasts {BOUT_S:g} s on average; seed {SEED}. Found where both "
            "shares are alike is a false alarm.",
        ),
    )


def _percent(hits: np.ndarray) -> float:
    return round(100 * float(np.mean(hits)), 1)


def _open(quick: bool) -> Table:
    settings = load_settings(LABEL)
    rests = [r for r in open_recordings() if not r.name.endswith("_2")]
    rows = [row for recording in rests[: 1 if quick else None] for row in _cut(recording, settings)]
    rows.append(_all_of(rows))
    return Table(
        "open-rest",
        "Open rest recordings cut where nothing happened: false alarms over regions and bands, %",
        rows,
        (
            "Cuts half a side apart. All one-sided regions by all bands that are carried; one "
            "recording's tests hang together, so that a single row scatters widely.",
            "cuts_with_findings: cuts after which anything held the false discovery rate.",
        ),
    )


def _cut(recording: OpenRecording, settings: Settings) -> list[dict]:
    scan, duration_s = region_scan(recording, settings)
    rows = []
    for side_s in SIDE_S:
        at = np.arange(side_s, duration_s - side_s + 1e-9, side_s / 2)
        found = [f for t in at if (f := _tested(scan, t, side_s)) is not None]
        if found:
            p = np.array([p for p, _ in found])
            rows.append(
                {
                    "recording": recording.name,
                    "side_s": side_s,
                    "cuts": len(found),
                    "tests": p.size,
                    "false_alarm_percent": _percent(p < 0.05),
                    "cuts_with_findings": sum(n > 0 for _, n in found),
                    **{
                        f"{band.name}_percent": _percent(p[..., k] < 0.05)
                        for k, band in enumerate(bands())
                        if k < p.shape[-1]
                    },
                }
            )
    return rows


def region_scan(recording: OpenRecording, settings: Settings) -> tuple[RegionScan, float]:
    """A scan over the recording as it is, high-passed; nothing else is cleaned."""
    rate_hz = float(recording.rate_hz)
    sos = signal.butter(4, 0.5, "highpass", fs=rate_hz, output="sos")
    samples = signal.sosfiltfilt(sos, recording.x, axis=1) * 1e-6
    regions = region_measures(template_head(), STANDARD_19, settings.head)
    quality = _untouched(samples.shape[1] / rate_hz, rate_hz, recording.limits)
    found = Signal(samples, STANDARD_19, rate_hz)
    return RegionScan(found, regions, quality, settings.replay.insight), quality.duration_s


def _untouched(duration_s: float, rate_hz: float, limits) -> Quality:
    return Quality(
        rate_hz=rate_hz,
        duration_s=duration_s,
        mains_hz=None,
        carried=Carried(low_hz=0.5, high_hz=min(limits.high_hz or np.inf, 0.45 * rate_hz)),
        electrodes=tuple(Electrode(name=n, good=True) for n in STANDARD_19),
        bad_spans=(),
        components=(),
        keep=(),
        muscle=(),
        eyes=(),
        usable_s=duration_s,
        scorable=True,
    )


def _tested(scan: RegionScan, at_s: float, side_s: float) -> tuple[np.ndarray, int] | None:
    """All p and the number of findings at one cut."""
    number = round(at_s * 10) * 1000 + round(side_s)
    before, after = (
        Block(number * 2 + k, Kind.PRACTICE, start, start + side_s, "closed", "none")
        for k, start in enumerate((at_s - side_s, at_s))
    )
    around = Break(before, before, after)
    found = scan(around)
    return None if found is None else (scan.compared(around).p, len(found.found))


def _all_of(rows: Sequence[dict]) -> dict:
    tests = np.array([row["tests"] for row in rows])
    alarms = np.array([row["false_alarm_percent"] for row in rows])
    return {
        "recording": "all",
        "cuts": sum(row["cuts"] for row in rows),
        "tests": int(tests.sum()),
        "false_alarm_percent": round(float((tests * alarms).sum() / tests.sum()), 1),
        "cuts_with_findings": sum(row["cuts_with_findings"] for row in rows),
    }
