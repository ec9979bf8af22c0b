"""What a client's progress page says first, and the rules that it says it by."""

from collections.abc import Sequence

from aftersit.pages import reasons
from aftersit.pages.counted import LEFT_OUT_AT_MOST
from aftersit.pages.format import (
    band,
    count,
    db,
    interval_percent,
    join,
    length,
    number,
    percent,
    place,
    probability,
)
from aftersit.pages.progress_inputs import ProgressInputs, Sitting
from aftersit.protocol import Condition
from aftersit.yardstick.course import LEAST_SITTINGS, direction, scatter


def lead(inputs: ProgressInputs) -> str:
    """The answer to whether time in the target state gets longer."""
    counted = inputs.counted
    way, p = direction([s.measured.share for s in counted])
    if way == "too-early":
        return (
            f"Too early to tell: {count(len(counted), 'sitting')} can be compared, and at least "
            f"{LEAST_SITTINGS} are needed before an order says more than chance."
        )
    if way == "no-direction":
        return (
            f"Time in target has no clear direction over {len(counted)} sittings: "
            f"their order could well be chance (p = {probability(p)})."
        )
    rose = "rose" if way == "longer" else "fell"
    return (
        f"Time in target {rose} over {len(counted)} sittings, more than their order would by "
        f"chance (p = {probability(p)}). That is a change, not its cause."
    )


def details(inputs: ProgressInputs) -> list[str]:
    """First and last sitting, the noise between sittings, and what else differs."""
    found = [*_ends(inputs.counted), *_noise(inputs.counted), *_looks(inputs.counted)]
    found += _set_by_themselves(inputs) + _differences(inputs) + _left_aside(inputs)
    return found


def _looks(counted: Sequence[Sitting]) -> list[str]:
    """A row that is looked at after each sitting shows chance directions, too (simulated)."""
    if len(counted) < LEAST_SITTINGS:
        return []
    return [
        "This page is made anew after each sitting: of rows of 20 sittings that vary by chance "
        "alone, about 1 in 4 shows a direction at some point."
    ]


def _ends(counted: Sequence[Sitting]) -> list[str]:
    if not counted:
        return []
    ends = [counted[0], counted[-1]] if len(counted) > 1 else [counted[0]]
    told = [f"{_share(s)} in sitting {s.label}" for s in ends]
    bouts = [f"{length(s.measured.longest_s)} in sitting {s.label}" for s in ends]
    return [
        f"In target on the yardstick: {join(told)}.",
        f"Longest bout on the yardstick: {join(bouts)}.",
    ]


def _share(sitting: Sitting) -> str:
    found = sitting.measured
    if found.low is None:
        return f"{percent(found.share)} (too short for an interval)"
    return f"{percent(found.share)} (95 % {interval_percent(found.low, found.high)})"


def _noise(counted: Sequence[Sitting]) -> list[str]:
    apart = scatter([s.measured.share for s in counted])
    if apart is None:
        return []
    return [
        f"From one sitting to the next it moves by about {number(apart * 100, 0)} points "
        "(standard deviation) without any direction; smaller steps say nothing."
    ]


def _set_by_themselves(inputs: ProgressInputs) -> list[str]:
    adaptive = {
        s.label
        for s in inputs.sittings
        for r in s.own
        for c in r.conditions
        if c.rule == "adaptive"
    }
    if not adaptive:
        return []
    return [
        f"In sitting {join(sorted(adaptive))} a threshold set itself: it keeps its rate where it "
        "is by design, so that the room's own time in target can't show a course."
    ]


def _differences(inputs: ProgressInputs) -> list[str]:
    found = []
    practices = dict.fromkeys(s.practice.value.replace("-", " ") for s in inputs.sittings)
    if len(practices) > 1:
        found.append(f"The practices differ ({join(list(practices))}); that alone can matter.")
    protocols = dict.fromkeys(r.protocol.name for s in inputs.sittings for r in s.own)
    if len(protocols) > 1:
        found.append(
            f"The protocols differ ({join(list(protocols))}); all sittings were replayed with "
            f"{inputs.used.name}, and were not trained with it throughout."
        )
    versions = dict.fromkeys(s.settings for s in inputs.sittings)
    if len(versions) > 1:
        found.append(f"The settings versions differ ({join(list(versions))}).")
    return found


def _left_aside(inputs: ProgressInputs) -> list[str]:
    return [
        f"Sitting {s.label} is shown and not compared: "
        f"{reasons.plain(reasons.NOT_COUNTED, s.why_not)}."
        for s in inputs.sittings
        if not s.counts
    ]


def yardstick_words(inputs: ProgressInputs) -> list[str]:
    """The yardstick and its rules, as sentences."""
    conditions = [condition_words(c) for c in inputs.used.conditions]
    return [
        f"All sittings are replayed with one protocol, {inputs.used.title} (of the newest "
        f"sitting, version {inputs.used.version}), with thresholds that never move: "
        f"{'; '.join(conditions)}.",
        "Each sitting is held against its own baseline, so that another cap, gel or amplifier "
        "gain does not count as a change. A threshold that sets itself is fixed where it starts; "
        "one in the measure's own unit is put at the baseline's mean.",
        f"A sitting is compared when at most {LEFT_OUT_AT_MOST} of its good electrodes differ "
        "from the set that most sittings share, its baseline had the eyes of the practice, and "
        "cleaning did not take most of its reward; others are shown with an open mark.",
        "Intervals allow for how slowly band power drifts within a sitting; they do not hold "
        "what differs from day to day, which the standard deviation between sittings does.",
    ]


def condition_words(condition: Condition) -> str:
    """A condition with its fixed threshold."""
    where = condition.where
    kind = "electrodes" if hasattr(where, "electrodes") else "region"
    rule = condition.threshold
    if hasattr(rule, "percentile_of_baseline"):
        threshold = f"percentile {rule.percentile_of_baseline:g} of the baseline"
    else:
        threshold = f"the baseline's mean {db(rule.db_over_baseline)}"
    return (
        f"{condition.name}, {place(where.key, kind)}, {band(condition.band_hz)}, "
        f"{condition.direction} {threshold}"
    )
