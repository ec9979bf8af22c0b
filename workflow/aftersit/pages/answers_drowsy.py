"""The answer to 'was the client drifting towards sleep?': signs, never a state."""

from aftersit.pages import reasons
from aftersit.pages.format import join, length, percent, span
from aftersit.pages.inputs import SittingInputs
from aftersit.record import DrowsyBlock, DrowsySpan, Record
from aftersit.sheet import Kind

MOST_SPANS = 6
CARE = (
    "Practice by itself can raise theta and change alpha, so signs count only together. This is "
    "a suspicion from the signal; it names neither sleep nor a state of mind."
)

Parts = tuple[str, tuple[str, ...]]


def drowsy_answer(inputs: SittingInputs) -> Parts:
    """Lead and details."""
    found = inputs.record.drowsiness
    by_verdict = {
        verdict: [b for b in found.blocks if b.verdict == verdict]
        for verdict in ("suspect", "no-sign-found", "cant-tell")
    }
    suspect, unknown = by_verdict["suspect"], by_verdict["cant-tell"]
    if suspect:
        lead = _suspected(suspect, [r.record for r in inputs.replays])
    elif by_verdict["no-sign-found"]:
        where = f" in {_blocks(by_verdict['no-sign-found'])}" if unknown else ""
        lead = f"No drowsy sign was found{where}; that is not the same as none."
    else:
        lead = "This recording can't tell."
    details = [_spans(found.spans)] if found.spans else []
    details += _baseline(inputs, suspect)
    details += [_why(code, unknown) for code in _codes(unknown)]
    details += _did_without([b for b in found.blocks if b.verdict != "cant-tell"])
    return lead, tuple([*details, CARE] if suspect else details)


def drowsy_share(record: Record) -> str | None:
    """How much of a protocol's reward lies in suspected seconds; None when none does."""
    share = record.drowsiness.reward_share
    if not share:
        return None
    return f"{percent(share)} of the reward time lies in seconds with drowsy signs"


def _blocks(blocks: list[DrowsyBlock]) -> str:
    numbers = join([str(b.index) for b in blocks])
    return f"block {numbers}" if len(blocks) == 1 else f"blocks {numbers}"


def _suspected(suspect: list[DrowsyBlock], records: list[Record]) -> str:
    total = length(sum(b.suspected_s for b in suspect))
    lead = f"Perhaps: {total} in {_blocks(suspect)} show signs that often go with drowsiness"
    shares = [share for record in records if (share := record.drowsiness.reward_share)]
    if not shares:
        return f"{lead}."
    most = "up to " if len(records) > 1 else ""
    return f"{lead}, and {most}{percent(max(shares))} of the reward time lies there."


def _spans(spans: tuple[DrowsySpan, ...]) -> str:
    told = [
        f"{span(s.start_s, s.stop_s)} ({join([reasons.plain(reasons.SIGN, n) for n in s.signs])})"
        for s in spans[:MOST_SPANS]
    ]
    left = len(spans) - MOST_SPANS
    return f"Suspected: {'; '.join(told)}{f' and {left} more' if left > 0 else ''}."


def _baseline(inputs: SittingInputs, suspect: list[DrowsyBlock]) -> list[str]:
    numbers = {b.index for b in suspect}
    if not any(b.kind is Kind.BASELINE and b.index in numbers for b in inputs.blocks):
        return []
    return ["A baseline is among them, so thresholds that count from it may be off."]


def _codes(blocks: list[DrowsyBlock]) -> list[str]:
    return list(dict.fromkeys(code for b in blocks for code in b.reasons))


def _why(code: str, unknown: list[DrowsyBlock]) -> str:
    own = [b for b in unknown if code in b.reasons]
    why, what = reasons.why_and_what(reasons.DROWSY, code)
    return f"Can't tell for {_blocks(own)}: {why}. {what}"


def _did_without(told: list[DrowsyBlock]) -> list[str]:
    return [
        f"Slow rolling of the eyes could not be looked for: {why}. {what}"
        for why, what in (reasons.why_and_what(reasons.DROWSY, code) for code in _codes(told))
    ]
