"""Muscle evidence for a protocol's conditions, from the uncleaned signal."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.muscle.account import Measured, evidence_of, muscle_account
from aftersit.muscle.evidence import Evidence
from aftersit.muscle.settings import MuscleSettings
from aftersit.muscle.windows import WINDOW_S, Windows
from aftersit.quality import Quality
from aftersit.record import Bout
from aftersit.record_muscle import MuscleAccount
from aftersit.replay.baseline import baseline_for
from aftersit.replay.case import Case, region_matrices
from aftersit.replay.conditions import matrix_of

_UV_PER_V = 1e6


@dataclass(frozen=True)
class Heard:
    """What the uncleaned signal tells of muscle in each condition."""

    windows: Windows
    evidence: dict[str, Evidence]
    quality: Quality
    settings: MuscleSettings
    less: frozenset[str]
    """Conditions that ask for less."""

    def account(self, blocks: Sequence[Block], bouts: Sequence[Bout]) -> MuscleAccount:
        """Verdicts of blocks, and of the bouts of the cleaned replay."""
        return muscle_account(
            self.windows, self.evidence, self.quality, blocks, bouts, self.settings, self.less
        )

    def shares_at(self, times_s: np.ndarray) -> dict[str, np.ndarray]:
        """Muscle's share of each measure in the window nearest to each time; NaN if not known.

        Evidence for a reader, not for a live system: half of the window lies ahead.
        """
        middle = self.windows.start_s + WINDOW_S / 2
        spans = [(span.start_s, span.stop_s) for span in self.quality.bad_spans]
        clear = self.windows.clear_of(spans)
        between = (middle[1:] + middle[:-1]) / 2
        nearest = np.searchsorted(between, times_s)
        return {
            name: np.where(clear, found.share, np.nan)[nearest]
            for name, found in self.evidence.items()
        }


class _Microvolts:
    """Rows of a signal in uV, made piece by piece, so that a long one is not copied."""

    def __init__(self, samples: np.ndarray, rows: list[int]):
        self._samples, self._rows = samples, rows
        self.shape = (len(rows), samples.shape[1])

    def __getitem__(self, place: tuple[slice, slice]) -> np.ndarray:
        return self._samples[:, place[1]][self._rows] * _UV_PER_V


def heard_in(case: Case) -> Heard:
    """Look at the good electrodes of the uncleaned signal of a case with muscle settings."""
    sitting, good = case.sitting, case.sitting.quality.good
    regions = region_matrices(case.running, sitting.regions)
    measures = [Measured(c.name, matrix_of(c, good, regions), c.band_hz) for c in case.running]
    rows = [sitting.uncleaned.names.index(name) for name in good]
    x = _Microvolts(sitting.uncleaned.samples, rows)
    windows, evidence = evidence_of(x, measures, sitting.quality, sitting.muscle)
    less = frozenset(c.name for c in case.running if c.direction == "below")
    return Heard(windows, evidence, sitting.quality, sitting.muscle, less)


def judged_blocks(case: Case) -> list[Block]:
    """Practice, and the baselines that its thresholds rest on."""
    bases = [baseline_for(case.sitting.blocks, block) for block in case.practices]
    known = {b.index: b for b in (*bases, *case.practices) if b is not None}
    return [known[index] for index in sorted(known)]
