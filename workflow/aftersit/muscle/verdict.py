"""One rule that joins the evidence into a score and a verdict.

Each kind of evidence is put on a scale from 0 (speaks against muscle) to 1
(speaks for it), straight in between:

    share    of the measure that muscle makes          0.10 .. 0.40
    level    of fast power over a muscle-free scalp    3 .. 9 dB
    slope    of the density above 20 Hz                -2.3 .. -1.0
    follows  correlation with the edge above the band  0.3 .. 0.7

(limits: settings). Level and slope count as one, by their mean. The score is the
weighted mean of what there is. Three guards keep it from saying more than the
recording allows:

- Where even all fast power taken as muscle, falling as steeply as muscle may, makes
  less than the lower limit of the measure, the share is at most that: a slow band is
  not muscle because the jaw is tense.
- Without a share (nothing recorded above 50 Hz, no component, no such bound) the
  verdict is never 'no-sign-found'; it is 'suspect' only when level and slope both
  speak for it.
- 'no-sign-found' means that no sign was found, not that there was none.
"""

from dataclasses import dataclass

import numpy as np

from aftersit.muscle.evidence import Evidence
from aftersit.muscle.settings import VerdictSettings
from aftersit.record_muscle import MuscleFinding, MuscleReason

FEWEST = 2
"""Windows for a finding; each is one second."""
FEWEST_FOR_CORRELATION = 40
SMOOTH = 4
"""Windows (two seconds) over which the correlation looks at means."""


@dataclass(frozen=True)
class Facts:
    """Evidence over some windows; None where there is none."""

    share: float | None
    level_db: float | None
    slope: float | None
    follows: float | None


def finding(
    evidence: Evidence, chosen: np.ndarray, follows: float | None, settings: VerdictSettings
) -> MuscleFinding:
    """Judge the windows of one bout.

    Parameters
    ----------
    chosen : ndarray of bool, shape (n_windows,)
        Usable windows.
    follows : float | None
        From `correlation` over the block.
    """
    if chosen.sum() < FEWEST:
        return MuscleFinding(verdict="cant-tell", reasons=("too-short",))
    return _judged(_facts(evidence, chosen, follows, settings), settings)


def block_finding(
    evidence: Evidence, chosen: np.ndarray, settings: VerdictSettings
) -> MuscleFinding:
    """Judge a block by its means and, so that muscle that comes and goes counts, by its tense part.

    The tense part are the windows whose share lies in the block's highest
    fifth (`tense_quantile`).
    """
    follows = correlation(evidence, chosen)
    whole = finding(evidence, chosen, follows, settings)
    share = evidence.share
    if chosen.sum() < FEWEST_FOR_CORRELATION or np.isnan(share[chosen]).all():
        return whole
    tense = chosen & (share >= np.nanquantile(share[chosen], settings.tense_quantile))
    part = finding(evidence, tense, follows, settings)
    return part if (part.score or 0) > (whole.score or 0) else whole


def correlation(evidence: Evidence, chosen: np.ndarray) -> float | None:
    """Correlation of the logarithms of measure and edge over two-second means."""
    usable = chosen & ~np.isnan(evidence.edge) & (evidence.edge > 0) & (evidence.power > 0)
    if usable.sum() < FEWEST_FOR_CORRELATION:
        return None
    n = usable.sum() // SMOOTH * SMOOTH
    both = np.stack([evidence.power[usable][:n], evidence.edge[usable][:n]])
    means = np.log(both.reshape(2, -1, SMOOTH).mean(axis=2))
    if (means.std(axis=1) < 1e-12).any():
        return None
    return float(np.corrcoef(means)[0, 1])


def _facts(
    evidence: Evidence, chosen: np.ndarray, follows: float | None, settings: VerdictSettings
) -> Facts:
    power, muscle, bound, level, slope = (
        _mean(row, chosen)
        for row in (
            evidence.power,
            evidence.muscle,
            evidence.at_most,
            evidence.level_db,
            evidence.slope,
        )
    )
    share = None if muscle is None or not power else min(muscle / power, 1.0)
    # Slow bands: even if all that is fast were muscle, little of the measure would be.
    if bound is not None and power and bound / power < settings.share[0]:
        share = min(share if share is not None else 1.0, bound / power)
    return Facts(share, level, slope, follows)


def _mean(values: np.ndarray, chosen: np.ndarray) -> float | None:
    some = values[chosen]
    return None if np.isnan(some).all() else float(np.nanmean(some))


def _judged(facts: Facts, settings: VerdictSettings) -> MuscleFinding:
    marks = {
        "share": (_scaled(facts.share, settings.share), settings.weights.share),
        "spectrum": (_spectrum(facts, settings), settings.weights.spectrum),
        "follows": (_scaled(facts.follows, settings.follows), settings.weights.follows),
    }
    known = {name: mark for name, mark in marks.items() if mark[0] is not None}
    score = None
    if known:
        weights = sum(weight for _, weight in known.values())
        score = float(sum(value * weight for value, weight in known.values()) / weights)
    verdict, more = _verdict(score, facts, settings)
    return MuscleFinding(
        verdict=verdict,
        score=score,
        share=facts.share,
        level_db=facts.level_db,
        slope=facts.slope,
        follows=facts.follows,
        reasons=(*_reasons(facts, settings), *more),
    )


def _verdict(
    score: float | None, facts: Facts, settings: VerdictSettings
) -> tuple[str, tuple[MuscleReason, ...]]:
    if score is None:
        return "cant-tell", ("no-fast-evidence",)
    if facts.share is None:
        loud = _scaled(facts.level_db, settings.level_db) == 1
        flat = (_scaled(facts.slope, settings.slope) or 0) >= settings.suspect_from
        return ("suspect" if loud and flat else "cant-tell"), ("no-fast-evidence",)
    if score >= settings.suspect_from:
        return "suspect", ()
    return ("no-sign-found" if score <= settings.none_to else "cant-tell"), ()


def _spectrum(facts: Facts, settings: VerdictSettings) -> float | None:
    """Mean of level and slope."""
    marks = [_scaled(facts.level_db, settings.level_db), _scaled(facts.slope, settings.slope)]
    known = [mark for mark in marks if mark is not None]
    return float(np.mean(known)) if known else None


def _scaled(value: float | None, limits: tuple[float, float]) -> float | None:
    if value is None:
        return None
    low, high = limits
    return float(np.clip((value - low) / (high - low), 0, 1))


def _reasons(facts: Facts, settings: VerdictSettings) -> tuple[MuscleReason, ...]:
    """What speaks for muscle, each by the upper half of its scale."""
    found = {
        "share-of-measure": _scaled(facts.share, settings.share),
        "fast-level": _scaled(facts.level_db, settings.level_db),
        "flat-spectrum": _scaled(facts.slope, settings.slope),
        "moves-with-edge": _scaled(facts.follows, settings.follows),
    }
    return tuple(name for name, mark in found.items() if mark is not None and mark >= 0.5)
