"""What the muscle evidence says of the practice, in words: signs and how sure, never more."""

from collections.abc import Sequence

from aftersit.pages import reasons
from aftersit.pages.format import MINUS, count, db, join, number, percent
from aftersit.pages.inputs import SittingInputs
from aftersit.record import Record
from aftersit.record_muscle import BlockMuscle, MuscleFinding

ORDER = ("suspect", "cant-tell", "no-sign-found")
CARE = (
    "Share, level and slope are of the signal before cleaning, as a live system hears it. A "
    "resting jaw or neck muscle is heard far away too, so no sign found is not the same as none."
)


def practice_findings(inputs: SittingInputs) -> list[BlockMuscle]:
    """Findings of what muscle could have earned in the practice blocks, all protocols."""
    return [f for r in inputs.replays for f in findings_of(r.record)]


def findings_of(record: Record) -> list[BlockMuscle]:
    """Findings of what muscle could have earned in a record's scored practice blocks."""
    return _scored(record, record.muscle.earning if record.muscle else ())


def _scored(record: Record, found: Sequence[BlockMuscle]) -> list[BlockMuscle]:
    scored = {b.index for b in record.cleaned.blocks if b.scored} if record.cleaned else set()
    return [f for f in found if f.block in scored]


def muscle_lead(inputs: SittingInputs) -> str | None:
    """One sentence; None where nothing was judged."""
    found = practice_findings(inputs)
    by_verdict = {v: _blocks([f for f in found if f.finding.verdict == v]) for v in ORDER}
    if by_verdict["suspect"]:
        return (
            f"Muscle is suspect in {by_verdict['suspect']}: "
            f"{_worst(found)}{_bouts([r.record for r in inputs.replays])}."
        )
    if by_verdict["cant-tell"]:
        return f"This recording can't tell for {by_verdict['cant-tell']}{_why(inputs)}."
    if by_verdict["no-sign-found"]:
        return f"No muscle sign was found {_where(inputs)}; that is not the same as none."
    return None


def _where(inputs: SittingInputs) -> str:
    """In the practice; or in what earns the reward, where a condition that can't is suspect."""
    records = [r.record for r in inputs.replays if r.record.muscle]
    found = [f for record in records for f in _scored(record, record.muscle.blocks)]
    guards = dict.fromkeys(f.condition for f in found if f.finding.verdict == "suspect")
    if not guards:
        return "in the practice"
    return f"in what could earn the reward, unlike in {join(list(guards))}, which asks for less"


def muscle_details(inputs: SittingInputs) -> list[str]:
    """Each condition's evidence in the block where it looks most like muscle."""
    records = [r.record for r in inputs.replays if r.record.muscle]
    found = [f for record in records for f in _scored(record, record.muscle.blocks)]
    names = dict.fromkeys(f.condition for f in found)
    lines = [_line(name, [f for f in found if f.condition == name]) for name in names]
    return [*lines, CARE] if lines else []


def verdict_words(record: Record, block: int) -> str | None:
    """The worst verdict on a block, as a table says it; None where none was given."""
    if record.muscle is None or all(f.block != block for f in record.muscle.blocks):
        return None
    return reasons.plain(reasons.VERDICT, record.muscle.of_block(block))


def _blocks(found: Sequence[BlockMuscle]) -> str:
    numbers = [str(n) for n in sorted({f.block for f in found})]
    if not numbers:
        return ""
    return f"block{'s' if len(numbers) > 1 else ''} {join(numbers)}"


def _worst(found: Sequence[BlockMuscle]) -> str:
    most = max(found, key=_rank)
    return f"{most.condition}, {join(_signs(most.finding)) or 'by all signs together'}"


def _rank(found: BlockMuscle) -> tuple[bool, float]:
    return found.finding.verdict == "suspect", found.finding.score or 0.0


def _signs(finding: MuscleFinding) -> list[str]:
    words = {
        "share-of-measure": lambda: f"{_about(finding.share)} of the measure is muscle",
        "fast-level": lambda: (
            f"fast power is {db(finding.level_db)} over that of a scalp without muscle"
        ),
        "flat-spectrum": lambda: (
            f"the spectrum above 20 Hz is flat (slope {number(finding.slope, 1)})"
        ),
        "moves-with-edge": lambda: (
            "the measure moves with the edge of the scalp "
            f"(correlation {number(finding.follows, 2)})"
        ),
    }
    return [words[code]() for code in finding.reasons if code in words]


def _bouts(records: Sequence[Record]) -> str:
    judged = [b for r in records if r.muscle for b in r.muscle.bouts]
    suspect = sum(b.finding.verdict == "suspect" for b in judged)
    if not judged:
        return ""
    return f"; so are {suspect} of {count(len(judged), 'bout')} that were left after cleaning"


def _why(inputs: SittingInputs) -> str:
    high_hz = inputs.quality.carried.high_hz
    if all(r.record.muscle is None or r.record.muscle.upper_to_hz for r in inputs.replays):
        return ": the signs point both ways"
    return f": nothing is recorded above {number(high_hz, 0, 'Hz')}, where muscle shows best"


def _line(name: str, found: Sequence[BlockMuscle]) -> str:
    most = max(found, key=_rank).finding
    verdict = reasons.plain(reasons.VERDICT, most.verdict)
    parts = _numbers(most)
    line = f"{name}: {verdict}{f' ({join(parts)})' if parts else ''}"
    if all(f.earns for f in found):
        return f"{line}."
    return f"{line}; it asks for less, so muscle can keep its reward away but not earn it."


def _numbers(finding: MuscleFinding) -> list[str]:
    parts = []
    if finding.share is not None:
        parts.append(f"muscle makes {_about(finding.share)} of the measure")
    if finding.level_db is not None:
        parts.append(f"30\N{EN DASH}45 Hz {db(finding.level_db)} against a muscle-free scalp")
    if finding.slope is not None:
        parts.append(f"slope {number(finding.slope, 1)} (muscle-free: {MINUS}2.3 to {MINUS}4.6)")
    if finding.follows is not None:
        parts.append(f"correlation with the edge {number(finding.follows, 2)}")
    return parts


def _about(share: float) -> str:
    """A share that is an estimate; `under 1 %` needs no 'about'."""
    words = percent(share)
    return words if words[0].isalpha() else f"about {words}"
