"""Muscle: how well it is found, and what taking it out leaves of the error."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aftersit.bench.case import FAST_HZ, Case, Rhythm, Tension
from aftersit.bench.heads import LABEL
from aftersit.bench.measured import band_covariance, region_matrix
from aftersit.bench.sittings import Simulated, simulate
from aftersit.bench.table import Table
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import Cleaned, clean_recording
from aftersit.head.sloreta import reference_basis
from aftersit.muscle.account import Measured, evidence_of
from aftersit.muscle.cortex import passed_share
from aftersit.muscle.made_up import passed_by_cleaning
from aftersit.muscle.verdict import correlation, finding
from aftersit.settings import load_settings
from demo_clinic.spans import Span, alternating

MINUTES = 3.0
MUSCLES = {
    "jaw, both": ("jaw-left", "jaw-right"),
    "jaw, one": ("jaw-left",),
    "brow": ("brow",),
    "neck": ("neck",),
    "all": ("jaw-left", "jaw-right", "brow", "neck"),
}
PLACES = (
    "insula-right",
    "superiorfrontal-both",
    "lateraloccipital-both",
    "caudalanteriorcingulate-both",
)
LEVELS_DB = (3.0, 6.0, 10.0)
BOUTS = 40
BOUT_S = (2.0, 15.0)
AWAY_S = 1.0
FREE, WEAK = "none", "below 1 dB"
GROUP_DB = 2.0
"""Muscle that lost its nearest electrodes is heard less; it is grouped by what is heard."""


@dataclass(frozen=True)
class Outcome:
    """One sitting.

    Attributes
    ----------
    level_db : float or str
        Of the muscle; `none` without.
    errors_db : dict of str to float
        By way of cleaning: band power while tense (else of all) over the true one.
    tense, free : list of (verdict, score)
        Bouts with muscle, and without.
    """

    level_db: float | str
    muscles: str
    errors_db: dict[str, float]
    tense: list[tuple[str, float]]
    free: list[tuple[str, float]]


def muscle_tables(quick: bool) -> Iterator[Table]:
    """Verdicts by level; errors of band power beside the oracle's and the labels'."""
    outcomes = [_outcome(*drawn) for drawn in _cases(2 if quick else 12)]
    yield _verdicts(outcomes)
    yield _errors(outcomes)


def _cases(per_level: int) -> Iterator[tuple[Case, str, tuple[Span, ...] | None]]:
    """Seeded sittings: every muscle, half of them intermittent, half with true bursts too."""
    kinds = list(MUSCLES)
    for i in range(per_level * (len(LEVELS_DB) + 1)):
        level = (*LEVELS_DB, None)[i % (len(LEVELS_DB) + 1)]
        turn = i // (len(LEVELS_DB) + 1)
        rng = np.random.default_rng([20260611, i])
        at, kind = PLACES[turn % len(PLACES)], kinds[turn % len(kinds)]
        whole = (0.0, MINUTES * 60)
        spans = tuple(alternating(rng, whole, 12, 12)) if turn % 3 else None
        bursts = (Rhythm(at, FAST_HZ, 6.0, tuple(alternating(rng, whole, 8, 14))),)
        tensions = () if level is None else (Tension(level, MUSCLES[kind], at, spans=spans),)
        case = Case.drawn(
            7000 + i, minutes=MINUTES, tensions=tensions, rhythms=bursts if turn % 2 else ()
        )
        yield case, kind if tensions else FREE, spans if tensions else ()


def _outcome(case: Case, muscles: str, spans: tuple[Span, ...] | None) -> Outcome:
    made = simulate(case)
    settings = load_settings(LABEL)
    cleaned = clean_recording(made.raw(), ChannelLimits(), 50.0, settings.clean, settings.seed)
    tense = [(0.0, MINUTES * 60)] if spans is None else list(spans)
    at = case.tensions[0].at if case.tensions else PLACES[case.seed % len(PLACES)]
    found = _bouts(made, cleaned, at, tense)
    level = _level(made, cleaned, at, tense) if case.tensions else FREE
    return Outcome(level, muscles, _ways(made, cleaned, at, tense), *found)


def _level(made: Simulated, cleaned: Cleaned, at: str, tense: list[Span]) -> float | str:
    """Level group at the electrodes that served: a loud muscle may have cost the nearest ones."""
    good = tuple(cleaned.names)
    rows = [made.sources.electrodes.index(name) for name in good]
    matrix = region_matrix(at, good)
    muscle, brain = (
        (matrix * _joined_covariance(x[rows], tense, made.rate_hz)).sum()
        for x in (made.parts["muscle"], made.parts["background"])
    )
    level_db = float(10 * np.log10(muscle / brain))
    nearest = min(LEVELS_DB, key=lambda group: abs(group - level_db))
    return nearest if level_db >= LEVELS_DB[0] - GROUP_DB else WEAK


def _ways(made: Simulated, cleaned: Cleaned, at: str, tense: list[Span]) -> dict[str, float]:
    """Band power over the true one in dB, by way of cleaning."""
    good, quality, rate = tuple(cleaned.names), cleaned.quality, made.rate_hz
    rows = [made.sources.electrodes.index(name) for name in good]
    spans = tense or [(0.0, MINUTES * 60)]
    matrix = region_matrix(at, good)
    brain, muscle, recorded, ours = (
        _joined_covariance(x, spans, rate)
        for x in (
            made.brain[rows],
            made.parts["muscle"][rows],
            made.signal_uv[rows],
            cleaned.data_uv,
        )
    )
    true = (matrix * brain).sum()
    labels = np.array(quality.keep)
    ways = {
        "uncleaned": (matrix * recorded).sum(),
        "labels": _through(matrix, labels, recorded) / passed_share(matrix, labels, good),
        "ours": (matrix * ours).sum() / passed_by_cleaning(matrix, FAST_HZ, quality),
    }
    if tense:
        oracle = _oracle(brain, muscle)
        kept = _through(matrix, oracle, brain) / true
        ways["oracle"] = _through(matrix, oracle, recorded) / kept
    return {name: float(10 * np.log10(power / true)) for name, power in ways.items()}


def _joined_covariance(x: np.ndarray, spans: list[Span], rate_hz: float) -> np.ndarray:
    """Band covariance at average reference, mean over spans by their length."""
    x = x - x.mean(axis=0)
    parts = [x[:, round(a * rate_hz) : round(b * rate_hz)] for a, b in spans]
    parts = [part for part in parts if part.shape[1] > rate_hz]
    weights = [part.shape[1] for part in parts]
    each = [band_covariance(part, rate_hz, FAST_HZ) for part in parts]
    return np.average(each, axis=0, weights=weights)


def _through(matrix: np.ndarray, spatial_filter: np.ndarray, covariance: np.ndarray) -> float:
    return float((matrix * (spatial_filter @ covariance @ spatial_filter.T)).sum())


def _oracle(brain: np.ndarray, muscle: np.ndarray) -> np.ndarray:
    """The Wiener filter that knows both covariances of the tense seconds."""
    basis = reference_basis(len(brain))
    b, m = (basis @ c @ basis.T for c in (brain, muscle))
    floor = 1e-3 * np.trace(b) / len(b) * np.eye(len(b))
    return basis.T @ ((b + floor) @ np.linalg.inv(b + floor + m)) @ basis


def _bouts(
    made: Simulated, cleaned: Cleaned, at: str, tense: list[Span]
) -> tuple[list[tuple[str, float]], list[tuple[str, float]]]:
    """Judge stretches as long as bouts, drawn where muscle is and where it is not."""
    quality, settings = cleaned.quality, load_settings(LABEL).clean.muscle
    rows = [made.sources.electrodes.index(name) for name in cleaned.names]
    measure = Measured("bench", region_matrix(at, tuple(cleaned.names)), FAST_HZ)
    windows, found = evidence_of(made.signal_uv[rows], [measure], quality, settings)
    evidence = found["bench"]
    usable = windows.clear_of([(span.start_s, span.stop_s) for span in quality.bad_spans])
    follows = correlation(evidence, usable)
    rng = np.random.default_rng(made.case.seed)
    kinds = {True: [], False: []}
    for start in rng.uniform(0, MINUTES * 60 - BOUT_S[1], BOUTS):
        stop = start + rng.uniform(*BOUT_S)
        where = _where((start, stop), tense)
        chosen = usable & windows.inside(start, stop)
        if where is not None and chosen.any():
            judged = finding(evidence, chosen, follows, settings.verdict)
            # Where bad spans leave less than two windows it can't tell; the score is then 0.
            kinds[where].append((judged.verdict, judged.score or 0.0))
    return kinds[True], kinds[False]


def _where(bout: Span, tense: list[Span]) -> bool | None:
    """True inside a tense span, False well outside all, None between."""
    if any(a <= bout[0] and bout[1] <= b for a, b in tense):
        return True
    apart = all(bout[1] < a - AWAY_S or bout[0] > b + AWAY_S for a, b in tense)
    return False if apart else None


def _verdicts(outcomes: list[Outcome]) -> Table:
    free = [bout for o in outcomes for bout in o.free]
    weak = [b for o in outcomes if o.level_db == WEAK for b in o.tense]
    groups = {f"{level:.0f} dB": [b for o in outcomes if o.level_db == level for b in o.tense]
              for level in LEVELS_DB}  # fmt: skip
    rows = [_verdict_row(name, bouts, free) for name, bouts in groups.items()]
    rows.append(_verdict_row(WEAK, weak, ()))
    rows.append(_verdict_row("none, sitting without", _of(outcomes, FREE), ()))
    between = [b for o in outcomes if o.level_db != FREE for b in o.free]
    rows.append(_verdict_row("none, between tense spans", between, ()))
    return Table(
        "muscle-verdicts",
        "Bouts by level of muscle over brain in 35-45 Hz at the region measure, per cent",
        rows,
        (
            f"{len(outcomes)} sittings of {MINUTES:g} min, heads other than the template; "
            "bouts of 2-15 s; half with true bursts of 6 dB in the same region and band.",
            "auc: of the score, against all bouts without muscle.",
        ),
    )


def _of(outcomes: list[Outcome], level: float | str) -> list[tuple[str, float]]:
    return [bout for o in outcomes if o.level_db == level for bout in o.free]


def _verdict_row(name: str, bouts, free) -> dict:
    shares = {
        word: 100 * np.mean([v == verdict for v, _ in bouts]) if bouts else np.nan
        for word, verdict in (
            ("suspect", "suspect"),
            ("cannot tell", "cant-tell"),
            ("none found", "no-sign-found"),
        )
    }
    auc = area_under_curve([s for _, s in bouts], [s for _, s in free]) if free else np.nan
    return {"muscle": name, "bouts": len(bouts), **shares, "auc": auc}


def area_under_curve(positive: list[float], negative: list[float]) -> float:
    """Chance that a positive scores above a negative, ties counted half (Mann-Whitney)."""
    from scipy.stats import mannwhitneyu

    return float(mannwhitneyu(positive, negative).statistic / (len(positive) * len(negative)))


def _errors(outcomes: list[Outcome]) -> Table:
    groups = defaultdict(list)
    for o in outcomes:
        groups[o.level_db, "all kinds"].append(o.errors_db)
        groups[o.level_db, o.muscles].append(o.errors_db)
    rows = []
    for (level, muscles), errors in sorted(groups.items(), key=str):
        if level == FREE and muscles == FREE:
            continue
        mean = {way: float(np.mean([abs(e[way]) for e in errors])) for way in errors[0]}
        gain = mean["uncleaned"] - mean.get("oracle", np.nan)
        rows.append(
            {
                "level": level if isinstance(level, str) else f"{level:.0f} dB",
                "muscle": muscles,
                "sittings": len(errors),
                **{way: mean.get(way, np.nan) for way in ("uncleaned", "labels", "ours", "oracle")},
                "ours of oracle's": (mean["uncleaned"] - mean["ours"]) / gain,
                "labels of oracle's": (mean["uncleaned"] - mean["labels"]) / gain,
            }
        )
    return Table(
        "muscle-errors",
        "Mean absolute error of region band power, 35-45 Hz, in dB of the true power",
        rows,
        (
            "Over the tense seconds (all seconds without muscle). oracle: the linear filter "
            "that knows the covariances of brain and muscle. Last columns: part of its "
            "reduction of the error.",
        ),
    )
