"""The protocol played again over what is known of the scored blocks, with other values.

What-if, advice and chance all ask the same: how often would it have rewarded if
the conditions had been met at other times. Known decisions of the scored blocks
are laid end to end; the reward starts anew wherever time is missing in between.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from aftersit.blocks import Block
from aftersit.protocol import Protocol
from aftersit.replay import logic
from aftersit.replay.run import rows_of
from aftersit.replay.timeline import Timeline


@dataclass(frozen=True)
class Playback:
    """Known decisions of some blocks, and the protocol's rule over them.

    Attributes
    ----------
    distance_db : ndarray, shape (n_conditions, n)
        Distance to the threshold that held; above 0 is met.
    blocks : tuple of (start, stop)
        Limits of each block within the `n` decisions.
    runs : tuple of (start, stop)
        Limits of the unbroken runs.
    rows : ndarray of int, shape (n,)
        Rows of the timeline.
    update_s : float
    needed, onset_steps, release_steps : int
        The protocol's rule.
    """

    distance_db: np.ndarray
    blocks: tuple[tuple[int, int], ...]
    runs: tuple[tuple[int, int], ...]
    rows: np.ndarray
    update_s: float
    needed: int
    onset_steps: int
    release_steps: int

    @classmethod
    def of(cls, timeline: Timeline, blocks: Sequence[Block], protocol: Protocol) -> "Playback":
        """The known decisions of these blocks."""
        slices = [rows_of(block, timeline.times_s) for block in blocks]
        known = [s.start + np.flatnonzero(timeline.known[s]) for s in slices]
        rows = np.concatenate([*known, np.empty(0, dtype=int)])
        cuts = np.cumsum([0, *(len(k) for k in known)]).tolist()
        limits = tuple((a, b) for a, b in pairwise(cuts) if b > a)
        distance = [
            logic.distance_db(timeline.value[i, rows], timeline.threshold[i, rows], direction)
            for i, direction in enumerate(timeline.directions)
        ]
        timing = protocol.timing
        return cls(
            distance_db=np.array(distance).reshape(len(timeline.names), -1),
            blocks=limits,
            runs=_runs(rows, cuts),
            rows=rows,
            update_s=timing.update_s,
            needed=protocol.needed,
            onset_steps=logic.steps_for(timing.onset_s, timing.update_s),
            release_steps=logic.steps_for(timing.release_s, timing.update_s),
        )

    @classmethod
    def of_met(cls, met: np.ndarray, known: np.ndarray, protocol: Protocol) -> "Playback":
        """From whether conditions were met, shape (n_conditions, n), where known, shape (n,)."""
        rows, timing = np.flatnonzero(known), protocol.timing
        return cls(
            distance_db=np.where(met[:, rows], np.inf, -np.inf),
            blocks=((0, len(rows)),) if len(rows) else (),
            runs=_runs(rows, (0, len(rows))),
            rows=rows,
            update_s=timing.update_s,
            needed=protocol.needed,
            onset_steps=logic.steps_for(timing.onset_s, timing.update_s),
            release_steps=logic.steps_for(timing.release_s, timing.update_s),
        )

    @property
    def known_s(self) -> float:
        """Seconds that are known."""
        return len(self.rows) * self.update_s

    @cached_property
    def met(self) -> np.ndarray:
        """Whether each condition was met, shape of `distance_db`."""
        return self.distance_db > 0

    def part(self, start: int, stop: int) -> "Playback":
        """Some decisions in a row, by their limits."""

        def inside(limits):
            kept = ((max(a, start), min(b, stop)) for a, b in limits)
            return tuple((a - start, b - start) for a, b in kept if b > a)

        return Playback(
            self.distance_db[:, start:stop],
            inside(self.blocks),
            inside(self.runs),
            self.rows[start:stop],
            self.update_s,
            self.needed,
            self.onset_steps,
            self.release_steps,
        )

    def rewarded(self, count: np.ndarray) -> np.ndarray:
        """Where the protocol would have rewarded.

        Parameters
        ----------
        count : ndarray of int, shape (..., n)
            How many conditions are met.
        """
        held = count >= self.needed
        rewarded = np.empty(held.shape, dtype=bool)
        for a, b in self.runs:
            rewarded[..., a:b] = logic.reward(held[..., a:b], self.onset_steps, self.release_steps)
        return rewarded

    def reward_share(self, stricter_db: np.ndarray) -> float:
        """Share of known time rewarded with each threshold moved, shape (n_conditions,)."""
        count = (self.distance_db > np.asarray(stricter_db)[:, np.newaxis]).sum(axis=0)
        return float(self.rewarded(count).mean())

    def longest_s(self, rewarded: np.ndarray) -> np.ndarray:
        """Longest unbroken reward, shape (...,), in seconds."""
        longest = np.zeros(rewarded.shape[:-1], dtype=int)
        for a, b in self.runs:
            place = np.arange(b - a)
            off = np.where(rewarded[..., a:b], -1, place)
            unbroken = place - np.maximum.accumulate(off, axis=-1)
            np.maximum(longest, unbroken.max(axis=-1), out=longest)
        return longest * self.update_s


def _runs(rows: np.ndarray, cuts: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Unbroken runs of rows; a new block starts a new one."""
    broken = np.flatnonzero(np.diff(rows) > 1) + 1
    limits = sorted({0, len(rows), *cuts, *broken.tolist()})
    return tuple((a, b) for a, b in pairwise(limits) if b > a)
