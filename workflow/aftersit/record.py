"""The record: the machine-readable result of one sitting under one protocol version.

Codes and numbers only, no free text from the sheet. `None` means: not known or
not applicable. Times are seconds from the first sample; shares lie in 0..1.
"""

from typing import Literal

from aftersit.closed import Closed
from aftersit.findings import BreakResult, Insight
from aftersit.record_muscle import MuscleAccount
from aftersit.sheet import Kind, Practice

SCHEMA_VERSION = "1"

Agreement = Literal["agree", "neither", "disagree", "not-clear"]
Refusal = Literal["band-not-in-recording", "no-baseline", "region-unknown", "electrode-missing"]
FixedRule = Literal["absolute", "db-over-baseline", "percentile-of-baseline"]
Caution = Literal["baseline-eyes-differ", "few-electrodes", "baseline-short"]
BoutEnd = Literal["lapse", "bad", "unknown", "gated", "block-end"]
DrowsyVerdict = Literal["no-sign-found", "suspect", "cant-tell"]
DrowsySign = Literal["alpha-out", "theta-up", "slow-rolls"]
DrowsyReason = Literal[
    "too-few-seconds",
    "no-level",
    "eyes-open",
    "no-alpha",
    "not-measured",
    "no-posterior-electrodes",
    "no-eye-electrodes",
    "slow-waves-not-recorded",
]


class ProtocolRef(Closed):
    """Which protocol version was run; its title and purpose stand in the protocol itself."""

    name: str
    version: int


class Purity(Closed):
    """How much of a region measure is the region (all cortex equally active).

    Definitions: `aftersit.head.hearing`.
    """

    share: float
    limit: float
    """Share that no linear filter on these electrodes passes."""
    coverage: float | None = None
    """Part of the region's area that the measure hears."""
    noise_gain_db: float | None = None
    """How much worse brain stands against electrode noise than at an electrode."""
    other_side_db: float | None = None
    """Own region over the same region of the other side; None for both sides together."""
    contrast_spread_db: float | None = None
    """What a contrast between blocks is off by (root mean square) when the head is not the
    template but one that it plausibly is."""
    neighbours: tuple[tuple[str, float], ...]
    """The regions that weigh most beside it, with their shares."""


class ConditionResult(Closed):
    """A condition as it was applied to this sitting."""

    name: str
    place: str
    """Key of the measure: `insula-right`, or `O1+O2` for electrodes."""
    kind: Literal["region", "electrodes"]
    measure: Literal["sloreta", "selective", "sensor"]
    band_hz: tuple[float, float]
    relative_to_hz: tuple[float, float] | None = None
    """With it the measure is relative power: the band's over this band's."""
    direction: Literal["above", "below"]
    rule: FixedRule | Literal["adaptive"]
    rule_value: float
    """The rule's number; of an adaptive rule the target rate, 0..1."""
    speed_db_per_min: float | None = None
    start_rule: FixedRule | None = None
    start_value: float | None = None
    """How fast an adaptive threshold moves, and the rule that it starts from."""
    unit: str
    refused: Refusal | None
    cautions: tuple[Caution, ...] = ()
    filter_delay_s: float | None
    """Group delay of the band-pass at the band's centre; the longer of both replays'."""
    settle_s: float | None
    """Time until the band-pass has settled, the longer of both replays'; after a start
    nothing is known for this and the smoothing window together."""
    smoothing_delay_s: float | None = None
    """Delay of the moving mean: half its window."""
    purity: Purity | None
    other_purity: Purity | None = None
    """Of the other measure of the same region: selective beside sLORETA, or the reverse."""


class BlockSeconds(Closed):
    """How the states tile a block; they add up to its length."""

    reward_s: float
    no_reward_s: float
    unknown_s: float
    """Filters not settled, or the smoothing window not full."""
    bad_s: float
    warm_up_s: float = 0.0
    """In the protocol's warm-up."""
    gated_s: float = 0.0
    """Held by the protocol's artefact gate."""
    lead_in_s: float = 0.0
    """Before the block's first decision."""
    tail_s: float = 0.0
    """After the recording's end."""
    not_scored_s: float

    @property
    def not_known_s(self) -> float:
        """Time of a scored block that is neither reward nor lapse."""
        lost = self.unknown_s + self.bad_s + self.warm_up_s + self.gated_s
        return lost + self.lead_in_s + self.tail_s


class ConditionInBlock(Closed):
    """One condition within one scored block; dB are relative to its threshold."""

    name: str
    met_share: float | None
    median_db: float | None
    highest_db: float | None
    """Nearest to (or furthest past) the threshold that was reached, signed so that > 0 is met."""
    highest_at_s: float | None = None
    """When that was."""
    deciding_share: float | None
    """Share of unrewarded time in which this condition alone stood in the way; where each of
    several would have done, the time is divided evenly among them."""
    threshold: float | None = None
    """The threshold that held in this block, in the condition's unit; of an adaptive one the
    first."""
    threshold_end: float | None = None
    """Where an adaptive threshold stood at the block's end."""

    @property
    def out_of_reach(self) -> bool:
        """Whether the threshold was not passed once."""
        return self.highest_db is not None and self.highest_db <= 0


class BlockResult(Closed):
    """One block under one replay."""

    index: int
    kind: Kind
    start_s: float
    stop_s: float
    eyes: str
    scored: bool
    seconds: BlockSeconds
    in_target_share: float | None
    """Reward time over known time (reward + no reward)."""
    in_target_low: float | None = None
    in_target_high: float | None = None
    """95 % interval of what this block's rate was, given how the reward came and went."""
    bouts: int
    longest_bout_s: float | None
    median_bout_s: float | None
    first_bout_after_s: float | None
    median_lapse_s: float | None
    """Time to come back (Kaplan and Meier): lapses cut short count as lasting at least so
    long; None when half of them did not end."""
    several_failing_share: float | None
    """Share of unrewarded time in which more than one more condition was needed."""
    all_failing_share: float | None = None
    """Share of unrewarded time in which no condition was met."""
    conditions: tuple[ConditionInBlock, ...]


class Bout(Closed):
    """One unbroken rewarded period."""

    block: int
    start_s: float
    stop_s: float
    ended_by: BoutEnd = "lapse"
    """A bout that did not end in a lapse may have gone on."""

    @property
    def length_s(self) -> float:
        return self.stop_s - self.start_s


class ReplayResult(Closed):
    """One replay: cleaned, or uncleaned as a live system could have run it."""

    thresholds: dict[str, float | None]
    """Threshold of each condition in its own unit, in the last scored block."""
    baselines: dict[str, float | None]
    """Level of the baseline that they rest on; None for absolute thresholds."""
    blocks: tuple[BlockResult, ...]
    bouts: tuple[Bout, ...]
    in_target_share: float | None
    bouts_total: int
    longest_bout_s: float | None


class Contrast(Closed):
    """Decibels of a block's band power over the baseline's, with a 95 % interval.

    The interval is that of signals whose spectrum stays as it is within a block: the
    least that is unknown.
    """

    db: float
    low_db: float
    high_db: float


class BlockEvidence(Closed):
    """What one block's spectrum says beside a condition."""

    block: int
    base: int | None = None
    """Baseline block that its contrasts are taken over: the last one before it."""
    eyes_differ: bool = False
    """Whether eyes were open in one of the two and closed in the other."""
    own: Contrast | None
    """By the condition's own measure; None without a baseline before."""
    other: Contrast | None
    """By the other measure of the same region: selective beside sLORETA, or the reverse."""
    agreement: Agreement | None
    """By means of segments, whose spread allows for drift; None where they are too few."""
    over_slope_db: float | None
    """The band's power over that of the spectrum's slope alone: a bump stands above it."""
    exponent: float | None
    """Of the slope, 1 / f^exponent; smaller is flatter."""


class ConditionEvidence(Closed):
    """What the spectra of the cleaned blocks say beside one condition."""

    condition: str
    blocks: tuple[BlockEvidence, ...]


class QualitySummary(Closed):
    """The figures of the cleaning account that pages and comparisons need."""

    rate_hz: float
    duration_s: float
    usable_s: float
    mains_hz: float | None
    carried_low_hz: float
    carried_high_hz: float
    good_electrodes: tuple[str, ...]
    bad_electrodes: dict[str, tuple[str, ...]]
    components_removed: dict[str, int]
    bad_seconds: dict[str, float]
    """Seconds by reason."""
    bad_seconds_by_block: dict[str, float]


class DrowsySpan(Closed):
    """Seconds with signs that often go with drowsiness: a suspicion, never a finding."""

    start_s: float
    stop_s: float
    signs: tuple[DrowsySign, ...]
    """Those that held for half of the span or more."""


class DrowsyBlock(Closed):
    """One block under the rule of `replay.drowsy`."""

    index: int
    verdict: DrowsyVerdict
    reasons: tuple[DrowsyReason, ...] = ()
    """Why nothing can be told, or what the rule had to do without."""
    looked_s: float
    """Seconds in which the rule had enough to go by."""
    suspected_s: float
    reward_share: float | None = None
    """Part of the block's reward time (cleaned) that lies inside suspected spans."""


class Drowsiness(Closed):
    """Where signs that often go with drowsiness were found. 'No sign found' is not 'none'."""

    spans: tuple[DrowsySpan, ...]
    blocks: tuple[DrowsyBlock, ...]
    reward_share: float | None = None
    """As in the blocks, over the whole sitting."""


class Record(Closed):
    """`record.json`."""

    schema_version: Literal["1"] = SCHEMA_VERSION
    client: str
    sitting: int
    practice: Practice
    settings: str
    protocol: ProtocolRef
    status: Literal["scored", "not-scored"]
    reasons: tuple[str, ...]
    """Why it was not scored: codes of `quality.UnusableReason`, 'all-conditions-refused',
    'a-condition-refused' or 'no-practice-block'."""
    quality: QualitySummary
    needed: int | None = None
    """How many conditions must be met at once; None is all."""
    drowsiness: Drowsiness
    conditions: tuple[ConditionResult, ...]
    evidence: tuple[ConditionEvidence, ...] = ()
    """Of each condition that could be measured; scoring does not rest on it."""
    cleaned: ReplayResult | None
    uncleaned: ReplayResult | None
    removed_reward_share: float | None
    """Part of the uncleaned reward that the cleaned replay does not give, where both score."""
    breaks: tuple[BreakResult, ...]
    insight: Insight | None = None
    muscle: MuscleAccount | None = None
    """Verdicts on muscle, from the uncleaned signal; None where nothing was scored."""
