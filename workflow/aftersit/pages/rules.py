"""A protocol's rules in the clinician's words."""

from aftersit.pages.format import band, db, number, percent, unit
from aftersit.record import ConditionResult, Record


def threshold_words(condition: ConditionResult) -> str:
    """The threshold rule: `+1.0 dB over baseline`."""
    if condition.rule != "adaptive":
        return _fixed(condition.rule, condition.rule_value, condition.unit)
    start = _fixed(condition.start_rule, condition.start_value, condition.unit)
    return (
        f"a threshold that moves until it is met {percent(condition.rule_value)} of the time "
        f"(at {number(condition.speed_db_per_min, 1, 'dB')} a minute, from {start})"
    )


def _fixed(rule: str, value: float, of: str) -> str:
    if rule == "absolute":
        return f"{value:g} {unit(of)}"
    if rule == "percentile-of-baseline":
        return f"percentile {value:g} of the baseline"
    return f"{db(value)} over baseline"


def measure_words(condition: ConditionResult) -> str:
    """What is measured in the band, where that is not plain power."""
    words = "selective measure" if condition.measure == "selective" else ""
    if condition.relative_to_hz:
        relative = f"relative to {band(condition.relative_to_hz)}"
        words = f"{words}, {relative}" if words else relative
    return words


def band_words(condition: ConditionResult) -> str:
    """The band, and what is measured in it where that is not plain power."""
    extra = measure_words(condition)
    return band(condition.band_hz) + (f", {extra}" if extra else "")


def combination_words(record: Record) -> str:
    """How many conditions must be met at once."""
    total = len(record.conditions)
    needed = total if record.needed is None else record.needed
    if needed == total:
        return "all must be met at once" if total > 1 else "it must be met"
    return "any one is enough" if needed == 1 else f"at least {needed} must be met at once"
