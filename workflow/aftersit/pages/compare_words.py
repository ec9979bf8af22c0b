"""Sentences of the comparison, for a clinic's lead."""

from collections import Counter
from collections.abc import Sequence

from aftersit.change.compare import MEASURES, Comparison, Row
from aftersit.change.figures_of import deciding, muscle
from aftersit.change.paired import Difference
from aftersit.change.why import Why
from aftersit.pages.format import SPACE, count, number

POINTS = "points"
MUSCLE = {
    "no-sign-found": "no sign found",
    "suspect": "suspect",
    "cant-tell": "can't tell",
    None: "not judged",
}
UNITS = {"in_target_percent": POINTS, "bouts": "", "longest_bout_s": "s"}
TITLES = {
    "in_target_percent": "Time in target, % of known time",
    "bouts": "Bouts in a sitting",
    "longest_bout_s": "Longest bout, s",
}
_DIGITS = 1


def signed(value: float | None, unit: str = "") -> str:
    """A change with its sign; a dash when not known."""
    text = number(value, _DIGITS, unit)
    return f"+{text}" if value is not None and round(value, _DIGITS) > 0 else text


def with_interval(found: Difference, unit: str = "") -> str:
    """Mean change and its 95 % interval."""
    if found.mean is None:
        return "not known"
    if found.low is None:
        return f"{signed(found.mean, unit)} (no interval: {count(found.clients, 'client')})"
    return f"{signed(found.mean, unit)} ({signed(found.low)} to {signed(found.high, unit)})"


def headline(found: Comparison) -> str:
    """The one sentence to take away."""
    change = found.difference(MEASURES[0])
    if change.mean is None:
        return "No sitting is scored on both sides, so nothing can be compared."
    if change.up + change.down == 0:
        return "Time in target is the same under A and B in every sitting."
    way = "higher" if change.mean > 0 else "lower"
    lead = f"Under B, time in target is {way} by {number(abs(change.mean), 1, POINTS)} on average"
    return f"{lead} over {count(change.clients, 'client')}{_sureness(change)}."


def _sureness(change: Difference) -> str:
    if change.low is None:
        return "; that is too few clients to say how sure this is"
    limits = f"95{SPACE}% interval {signed(change.low)} to {signed(change.high, POINTS)}"
    if change.low <= 0 <= change.high:
        return f", but clients differ so much that it may as well be none ({limits})"
    return f" ({limits})"


def key_facts(found: Comparison) -> list[str]:
    """What a decision rests on beside the headline."""
    change = found.difference(MEASURES[0])
    facts = [
        f"Time in target: higher under B in {count(change.up, 'sitting')}, lower in {change.down}, "
        f"the same in {change.same}.",
        _not_scored(found),
        _muscle(found),
        _deciding(found),
    ]
    missing = found.pairs.only_a + found.pairs.only_b
    if missing:
        facts.append(
            f"{count(missing, 'sitting')} could not be compared: results under one side only."
        )
    if other := found.pairs.other_sheet:
        facts.append(
            f"{count(other, 'sitting')} could not be compared: one side was made from an earlier "
            "sheet; replay again."
        )
    return facts


def other_algorithms(made_with: int, own: int) -> str:
    """Why results of other algorithms can't be put in force."""
    return (
        f"These results were made with algorithms {made_with}; this program computes with "
        f"algorithms {own} only. They stay where they are."
    )


def not_practised(protocol: str) -> str:
    """Why a protocol that was only tried can't be put in force."""
    return f"None of these sittings practised {protocol}; it was only tried on them."


def _not_scored(found: Comparison) -> str:
    a, b = (sum(getattr(r.pair, s).status != "scored" for r in found.rows) for s in "ab")
    return f"Could not be scored: {a} under A, {b} under B, of {len(found.rows)}."


def _muscle(found: Comparison) -> str:
    tally = found.counted(muscle)
    a, b = (sum(n for pair, n in tally.items() if pair[side] == "suspect") for side in (0, 1))
    rose = [r for r in found.rows if (r.change(MEASURES[0]) or 0) > 0]
    suspect = sum(muscle(r.pair.b) == "suspect" for r in rose)
    told = f"Muscle is suspected in {count(a, 'sitting')} under A, {b} under B"
    if not rose:
        return f"{told}."
    return f"{told}; in {suspect} of the {len(rose)} with more time in target under B."


def _deciding(found: Comparison) -> str:
    tally = found.counted(deciding)
    changed = sum(n for (one, two), n in tally.items() if one != two)
    return f"What most kept the reward away is another under B in {count(changed, 'sitting')}."


def reasons_in_words(reasons: Sequence[Why], most: int = 3) -> str:
    """The first reasons; what threshold and measure of one condition did is said together."""
    said: dict[str, list[Why]] = {}
    for why in reasons:
        moved = why.code in _MOVED
        said.setdefault(f"{why.what}:moved" if moved else f"{why.code}:{why.what}", []).append(why)
    words = [
        _moved(found) if found[0].code in _MOVED else _other(found[0]) for found in said.values()
    ]
    return "; ".join(words[:most])


_MOVED = ("threshold", "measure")


def _moved(found: Sequence[Why]) -> str:
    """`alpha: 0.1 dB harder to meet (threshold 0.8 dB harder, measure 0.7 dB easier)`."""
    name, total = found[0].what, sum(why.amount for why in found)
    if len(found) == 1:
        return f"{name}: {found[0].code} {_nearer(total)} to meet"
    parts = ", ".join(f"{why.code} {_nearer(why.amount)}" for why in found)
    return f"{name}: {_nearer(total)} to meet in all ({parts})"


def _other(why: Why) -> str:
    return {
        "status": f"{'scored' if why.what == 'scored' else 'not scored'} under B only",
        "condition-added": f"{why.what} is a new condition",
        "condition-gone": f"{why.what} is no condition any more",
        "together": f"{why.what} conditions must now be met at once",
        "timing": "the reward's timing or artefact gate differs",
        "usable": f"usable time: {signed(why.amount, 's')}",
        "electrodes": f"other electrodes served: {why.what}",
    }[why.code]


def _nearer(amount_db: float) -> str:
    way = "easier" if amount_db > 0 else "harder"
    return f"{number(abs(amount_db), 1, 'dB')} {way}"


def counted_rows(tally: Counter, named) -> list[list[str]]:
    """`A, B, sittings`, the most frequent first."""
    ordered = sorted(tally.items(), key=lambda item: (-item[1], str(item[0])))
    return [[named(one), named(two), str(n)] for (one, two), n in ordered]


def changed_row(row: Row) -> list[str]:
    """One of the sittings that changed most."""
    a, b = (MEASURES[0].of(r) for r in (row.pair.a, row.pair.b))
    why = reasons_in_words(row.why) or "conditions were met at other times"
    return [number(a, 1), number(b, 1), signed(row.change(MEASURES[0])), why]
