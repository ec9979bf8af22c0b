"""One sitting and one protocol, and what follows from the two before anything is scored."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from aftersit.blocks import Block
from aftersit.head.measures import RegionMeasures
from aftersit.muscle.made_up import passed_by_cleaning
from aftersit.muscle.settings import MuscleSettings
from aftersit.protocol import Condition, ElectrodePlace, Protocol
from aftersit.quality import Quality
from aftersit.record import Refusal
from aftersit.replay import conditions as cond
from aftersit.replay.baseline import Threshold, baseline_for
from aftersit.replay.run import Signal, Values, block_thresholds, condition_values
from aftersit.replay.settings import ReplaySettings
from aftersit.sheet import Kind, Practice

Thresholds = dict[int, list[Threshold]]


@dataclass(frozen=True)
class Sitting:
    """What a replay needs to know of one sitting.

    Attributes
    ----------
    regions : RegionMeasures
        For the good electrodes, the rows of `cleaned`.
    uncleaned_matrices : mapping
        Region measure (`RegionPlace.measure_key`) -> matrix over the rows of `uncleaned`.
    cleaned, uncleaned : Signal
    rewards_logged : tuple of (start_s, stop_s)
        What the room's own system logged.
    muscle : MuscleSettings or None
        None leaves muscle evidence out.
    eye_below_hz : float
        Cleaning takes eyes out below this only.
    """

    client: str
    number: int
    practice: Practice
    settings: str
    blocks: tuple[Block, ...]
    quality: Quality
    regions: RegionMeasures
    uncleaned_matrices: Mapping[str, np.ndarray]
    cleaned: Signal
    uncleaned: Signal
    rewards_logged: tuple[tuple[float, float], ...] = ()
    muscle: MuscleSettings | None = None
    eye_below_hz: float = np.inf


@dataclass(frozen=True)
class Case:
    """One sitting, one protocol, and what follows from the two before any signal is run."""

    sitting: Sitting
    protocol: Protocol
    settings: ReplaySettings
    practices: tuple[Block, ...]
    refused: dict[str, Refusal]
    delays: dict[str, cond.Delays]
    left_out: frozenset[str] = frozenset()
    """Refused conditions that enough others can do without."""

    @property
    def running(self) -> list[Condition]:
        """Conditions that can be run at all."""
        return [
            c
            for c in self.protocol.conditions
            if self.refused.get(c.name) in _VALUES_ANYWAY and c.name not in self.left_out
        ]

    @property
    def fast_hz(self) -> float | None:
        """From where on muscle is loud: where cleaning takes it out; None without settings."""
        return self.sitting.muscle and self.sitting.muscle.crossover_hz


# Without a baseline there is no threshold, but there are values to look at.
_VALUES_ANYWAY = (None, "no-baseline")


def practices_of(blocks: Sequence[Block], protocol: str) -> tuple[Block, ...]:
    """Practice blocks to score: those of this protocol, or all when none is.

    The second case is rescoring with a protocol that was not practised.
    """
    practices = tuple(b for b in blocks if b.kind is Kind.PRACTICE)
    return tuple(b for b in practices if b.protocol == protocol) or practices


def make_case(sitting: Sitting, protocol: Protocol, settings: ReplaySettings) -> Case:
    """Put together what is known before any signal is run; refuse what can't be."""
    practices = practices_of(sitting.blocks, protocol.name)
    refused, late = {}, {}
    for condition in protocol.conditions:
        reason = cond.refusal(condition, sitting.quality, sitting.regions)
        if reason != "band-not-in-recording":
            late[condition.name] = cond.delays(
                condition,
                protocol.timing.smoothing_s,
                sitting.quality.rate_hz,
                sitting.uncleaned.mains_hz,
                settings,
            )
        if not reason and condition.rests_on_baseline:
            bases = [baseline_for(sitting.blocks, block) for block in practices]
            reason = None if any(bases) or not practices else "no-baseline"
        if reason:
            refused[condition.name] = reason
    return Case(sitting, protocol, settings, practices, refused, late)


def both_values(case: Case) -> dict[str, Values]:
    """Run the engine over the `cleaned` and the `uncleaned` signal."""
    cleaned = region_matrices(case.running, case.sitting.regions)
    return {
        "cleaned": _values(case, case.sitting.cleaned, cleaned, _passed(case.sitting.quality)),
        "uncleaned": _values(case, case.sitting.uncleaned, case.sitting.uncleaned_matrices),
    }


def region_matrices(
    conditions: Sequence[Condition], regions: RegionMeasures
) -> dict[str, np.ndarray]:
    """Matrices of the region measures that conditions need, by `measure_key`."""
    places = [c.where for c in conditions if not isinstance(c.where, ElectrodePlace)]
    return {
        p.measure_key: regions.matrix(p.key, p.measure) for p in places if p.key in regions.keys
    }


def _passed(quality: Quality) -> cond.Passed:
    return lambda matrix, band_hz: passed_by_cleaning(matrix, band_hz, quality)


def _values(
    case: Case,
    signal: Signal,
    matrices: Mapping[str, np.ndarray],
    passed: cond.Passed = cond.all_passed,
) -> Values:
    rate_hz, mains_hz = signal.rate_hz, signal.mains_hz
    tracks = [
        cond.track(c, signal.names, matrices, rate_hz, mains_hz, case.settings, passed)
        for c in case.running
    ]
    return condition_values(signal, tracks, case.protocol, case.settings)


def without(
    case: Case,
    values: Mapping[str, Values],
    thresholds: Mapping[str, Thresholds],
    refused: Iterable[str],
) -> tuple[Case, dict[str, Values], dict[str, Thresholds]]:
    """The same with the conditions alone that were not refused, so that these can be scored."""
    left_out = frozenset(refused)
    kept = [i for i, c in enumerate(case.running) if c.name not in left_out]
    return (
        replace(case, left_out=left_out),
        {name: replace(found, value=found.value[kept]) for name, found in values.items()},
        {
            name: {block: [row[i] for i in kept] for block, row in found.items()}
            for name, found in thresholds.items()
        },
    )


def thresholds_of(case: Case, values: Values) -> Thresholds:
    """Thresholds of each practice block from one replay's own baselines."""
    smoothing_s = case.protocol.timing.smoothing_s
    return block_thresholds(
        values, case.running, case.practices, case.sitting.blocks, smoothing_s, case.settings
    )
