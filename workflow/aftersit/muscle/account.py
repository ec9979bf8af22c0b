"""Muscle findings of one sitting under one protocol: every condition, block and bout."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from aftersit.blocks import Block
from aftersit.muscle.evidence import Evidence, measure_evidence
from aftersit.muscle.model import ranges_of, upper_ranges
from aftersit.muscle.settings import MuscleSettings
from aftersit.muscle.verdict import block_finding, correlation, finding
from aftersit.muscle.windows import Range, Spectra, Windows, densities_in
from aftersit.quality import Quality
from aftersit.record import Bout
from aftersit.record_muscle import BlockMuscle, BoutMuscle, MuscleAccount


@dataclass(frozen=True)
class Measured:
    """A condition's measure before cleaning.

    Attributes
    ----------
    name : str
        The condition.
    matrix : ndarray, shape (n_good, n_good)
        The measure of a signal x in uV is x' M x.
    band_hz : (low_hz, high_hz)
    """

    name: str
    matrix: np.ndarray
    band_hz: Range


def evidence_of(
    x: np.ndarray, measures: Sequence[Measured], quality: Quality, settings: MuscleSettings
) -> tuple[Windows, dict[str, Evidence]]:
    """Evidence for each condition, and the windows that it stands for.

    Parameters
    ----------
    x : ndarray, shape (n_good, n_samples)
        The uncleaned signal of the good electrodes, uV, any reference.
    """
    ranges = ranges_of(quality.carried, settings)
    bands = {f"band of {m.name}": m.band_hz for m in measures}  # all in one pass over the signal
    windows = densities_in(Spectra(x, quality.rate_hz), ranges | bands, quality)
    common = replace(windows, ranges=ranges, density={n: windows.density[n] for n in ranges})
    found = {}
    for measure in measures:
        band = windows.density[f"band of {measure.name}"]
        own = replace(
            common,
            ranges=ranges | {"band": measure.band_hz},
            density=common.density | {"band": band},
        )
        found[measure.name] = measure_evidence(
            measure.matrix, measure.band_hz, own, quality, settings
        )
    return common, found


def muscle_account(
    windows: Windows,
    evidence: Mapping[str, Evidence],
    quality: Quality,
    blocks: Sequence[Block],
    bouts: Sequence[Bout],
    settings: MuscleSettings,
    less: frozenset[str] = frozenset(),
) -> MuscleAccount:
    """Judge every block and bout.

    Parameters
    ----------
    blocks : sequence of Block
        Those to judge: practice, and the baselines that thresholds rest on.
    bouts : sequence of Bout
        Of the cleaned replay.
    less : frozenset of str
        Conditions that ask for less: muscle keeps their reward away and can't earn it.
    """
    usable = windows.clear_of([(span.start_s, span.stop_s) for span in quality.bad_spans])
    inside = {b.index: usable & windows.inside(b.start_s, b.stop_s) for b in blocks}
    halves = upper_ranges(quality.carried, settings)
    earning = {name: found for name, found in evidence.items() if name not in less}
    return MuscleAccount(
        upper_to_hz=halves[1][1] if halves else None,
        directions=len(quality.muscle_pattern.kept) if quality.muscle_pattern else 0,
        blocks=tuple(
            BlockMuscle(
                block=index,
                condition=name,
                finding=block_finding(found, chosen, settings.verdict),
                earns=name not in less,
            )
            for index, chosen in inside.items()
            for name, found in evidence.items()
        ),
        bouts=tuple(_bouts(windows, earning or evidence, usable, inside, bouts, settings)),
    )


def _bouts(
    windows: Windows,
    evidence: Mapping[str, Evidence],
    usable: np.ndarray,
    inside: Mapping[int, np.ndarray],
    bouts: Sequence[Bout],
    settings: MuscleSettings,
):
    follows = {
        (index, name): correlation(found, chosen)
        for index, chosen in inside.items()
        for name, found in evidence.items()
    }
    for bout in bouts:
        chosen = usable & windows.inside(bout.start_s, bout.stop_s)
        findings = {
            name: finding(found, chosen, follows.get((bout.block, name)), settings.verdict)
            for name, found in evidence.items()
        }
        name = max(findings, key=lambda n: _rank(findings[n]))
        yield BoutMuscle(
            block=bout.block, start_s=bout.start_s, condition=name, finding=findings[name]
        )


def _rank(found) -> tuple[int, float]:
    order = {"no-sign-found": 0, "cant-tell": 1, "suspect": 2}
    return order[found.verdict], found.score or 0.0
