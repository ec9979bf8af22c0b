"""What the record keeps of comparisons, chance, what-if, advice and agreement.

Shares lie in 0..1; `None` means not known. A change is a change in one person,
not its cause.
"""

from typing import Literal

from aftersit.closed import Closed

NoAdvice = Literal[
    "too-little-known",
    "few-electrodes",
    "baseline-eyes-differ",
    "reward-mostly-removed",
    "muscle",
    "muscle-cant-tell",
    "drowsy",
    "sets-itself",
    "out-of-reach",
]


class Change(Closed):
    """A condition before and after a break: means of segments, in dB."""

    condition: str
    before_db: float | None
    after_db: float | None
    change_db: float | None
    low_db: float | None
    high_db: float | None
    """95 % interval of the change."""
    p: float | None = None
    """Two-sided."""
    clear: bool = False
    """Whether it holds the false discovery rate over all conditions and breaks of the sitting."""


class ShareChange(Closed):
    """Time in target before and after a break, as shares of known time.

    Means of segments, as the interval; of the whole blocks where there is none.
    """

    before: float | None
    after: float | None
    change: float | None
    low: float | None
    high: float | None
    """95 % interval of the change."""
    p: float | None = None


class OtherChange(Closed):
    """A region measure in a standard band that changed over a break."""

    place: str
    band: str
    band_hz: tuple[float, float]
    change_db: float
    low_db: float
    high_db: float
    p: float
    q: float
    """Smallest false discovery rate at which it would still be found."""


class Elsewhere(Closed):
    """All regions by standard bands over one break, after cleaning."""

    tested: int
    false_discovery_rate: float
    """Expected share of chance findings among `found`, at most."""
    found: tuple[OtherChange, ...]


class BreakResult(Closed):
    """A break with practice on both sides, from the cleaned replay."""

    block: int
    """The first, where several breaks follow each other."""
    start_s: float
    stop_s: float
    before_block: int
    after_block: int
    in_target: ShareChange
    changes: tuple[Change, ...]
    """Decibels over the threshold at the start of the block before, on both sides; a
    rise is a rise of the measure, whatever the condition's direction."""
    distances: tuple[Change, ...] = ()
    """Distance to the threshold that held on each side; above 0 is met."""
    elsewhere: Elsewhere | None = None


class Expected(Closed):
    """What chance would have given, over many surrogates: means, and where given a range."""

    reward_share: float
    longest_bout_s: float
    longest_high_s: float
    """Longer in one of twenty."""
    together_share: float
    """Share of known time in which enough conditions were met at once."""
    together_low: float
    together_high: float
    """95 % of the surrogates lie between."""
    p: float
    """Share of the surrogates with at least as much together as there was (this one counted)."""


class InBaseline(Closed):
    """The first scored block's thresholds over its baseline block."""

    block: int
    reward_share: float
    longest_bout_s: float


class Chance(Closed):
    """What was together in the scored blocks, and what chance would have given."""

    reward_share: float | None
    longest_bout_s: float | None
    together_share: float | None
    unrelated: Expected | None
    """If the conditions had nothing to do with each other; None for a single one."""
    only_leakage: Expected | None
    """If they had only what their measures hear of each other."""
    baseline: InBaseline | None
    """None without a baseline, and where a threshold sets itself."""


class WhatIf(Closed):
    """Share of known time rewarded with one fixed threshold moved, the others as they were."""

    condition: str
    stricter_db: tuple[float, ...]
    reward_share: tuple[float, ...]


class WhatIfBoth(Closed):
    """The same with two fixed thresholds moved: a row for each step of the first condition."""

    conditions: tuple[str, str]
    stricter_db: tuple[float, ...]
    reward_share: tuple[tuple[float, ...], ...]


class AdvisedThreshold(Closed):
    """A threshold that would have given the target rate."""

    condition: str
    stricter_db: float
    """Against the threshold that held; at most the settings' limit."""
    limited: bool
    """Whether the limit held it back."""
    value: float
    """In the measure's own unit."""
    db_over_baseline: float | None
    low_db: float | None
    high_db: float | None
    """95 % interval of the decibels over baseline, from how the signal came and went."""
    met_share: float
    """How often the condition alone would have been met."""


class Advice(Closed):
    """Thresholds for next time; a common practice, and no target is the correct one."""

    target_share: float
    refused: tuple[NoAdvice, ...]
    """Why there is none."""
    thresholds: tuple[AdvisedThreshold, ...]
    expected_share: float | None
    """Reward rate that all of them together would have given in this sitting."""
    halves: tuple[float, float] | None
    """Rate that thresholds from the one half give in the other half."""
    steady: bool | None
    """Whether both halves come within the settings' margin of the target."""


class Agreement(Closed):
    """A replay against the rewards that the room's own system logged, in scored blocks."""

    replay: Literal["cleaned", "uncleaned"]
    known_s: float
    logged_share: float
    replayed_share: float
    kappa: float | None
    """Cohen's, decision by decision; None when either never or always rewards, or when
    the log has moments only."""
    lag_s: float | None
    """Shift of the log, later above 0, at which they agree best."""
    kappa_at_lag: float | None
    logged_bouts: int
    replayed_bouts: int
    missed_bouts: int
    """Logged, and at that shift nowhere in the replay."""
    extra_bouts: int
    """In the replay, and at that shift nowhere in the log."""


class StillOn(Closed):
    """Share of bouts that go on beyond a length."""

    length_s: float
    share: float
    low: float | None
    high: float | None


class Survival(Closed):
    """How long bouts last, those that were cut short counted as lasting at least so long."""

    bouts: int
    cut: int
    """Ended by the block's end, a bad span, the gate or unknown time, not by a lapse."""
    median_s: float | None
    """None when more than half of them outlast all that was seen."""
    still_on: tuple[StillOn, ...]


class LostReward(Closed):
    """Uncleaned reward that the cleaned replay does not give, in blocks that both score."""

    lost_s: float
    by_reason_s: dict[str, float]
    """Seconds by what took most of the measure away: codes of `aftersit.insight.lost`."""


class HigherWhileOff(Closed):
    """A region measure in a standard band that differs while the reward stayed off."""

    place: str
    band: str
    band_hz: tuple[float, float]
    higher_db: float
    """Unrewarded less rewarded time of the same blocks; below 0 it was lower."""
    low_db: float
    high_db: float
    """95 % interval."""
    p: float
    q: float
    """Smallest false discovery rate at which it would still be found."""
    heard_by: tuple[str, ...]
    """Conditions whose band this one touches: the reward chose by what they hear, and
    other regions hear that too."""


class RewardOff(Closed):
    """All regions by standard bands without and with reward, inside the scored blocks.

    Seen together, never a cause.
    """

    rewarded_s: float
    unrewarded_s: float
    """Known time that was compared, of blocks with both."""
    tested: int
    left_out: int
    """Pairs of region and band that conditions are made of: they differ by construction."""
    false_discovery_rate: float
    """Expected share of chance findings among `found`, at most."""
    found: tuple[HigherWhileOff, ...]


class Insight(Closed):
    """What the replays of a scored sitting tell."""

    chance: Chance
    what_if: tuple[WhatIf, ...]
    what_if_both: WhatIfBoth | None
    advice: Advice
    """From signal and quality alone: pages hold it back where something unpleasant was coded."""
    survival: Survival | None
    lost: LostReward
    agreement: tuple[Agreement, ...]
    """With the cleaned and with the uncleaned replay, where rewards were logged."""
    reward_off: RewardOff | None = None
    """None where too little is known with or without reward."""
