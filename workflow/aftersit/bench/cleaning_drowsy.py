"""How often drowsy spells are suspected, and how often awake people are."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.bench.drowsy_cases import KINDS, Doze, dozes, simulated
from aftersit.bench.heads import LABEL
from aftersit.bench.open_recordings import OpenRecording, open_recordings
from aftersit.bench.sittings import as_raw
from aftersit.bench.table import Table
from aftersit.blocks import Block
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.drowsy import measure_drowsy
from aftersit.clean.run import clean_recording
from aftersit.clean.slow_eyes import slow_copy
from aftersit.electrodes import STANDARD_19
from aftersit.record import Drowsiness
from aftersit.replay.drowsy import drowsiness
from aftersit.replay.spans import overlap_s
from aftersit.settings import load_settings
from aftersit.sheet import Kind

SEED = 51000
SITTINGS, QUICK_SITTINGS = 8, 1
HIT_SHARE = 0.3
"""Part of a spell under suspicion from which it counts as found."""
LENGTHS_S = ((15, 30), (30, 60), (60, 121))
DEPTHS_DB = ((6, 10), (10, 14), (14, 18.1))


@dataclass(frozen=True)
class _Judged:
    doze: Doze
    found: Drowsiness

    @property
    def suspected(self) -> list[tuple[float, float]]:
        return [(s.start_s, s.stop_s) for s in self.found.spans]

    def shares(self) -> list[float]:
        """Part of each spell that was suspected."""
        return [overlap_s(self.suspected, a, b) / (b - a) for a, b in self.doze.spells]

    def dozed_s(self, block: Block) -> float:
        return overlap_s(self.doze.spells, block.start_s, block.stop_s)


def drowsy_tables(quick: bool) -> Iterator[Table]:
    """Hits, hits by depth and length, false alarms, open recordings, cost."""
    judged = [_judge(doze) for doze in dozes(QUICK_SITTINGS if quick else SITTINGS, SEED)]
    yield _hits([j for j in judged if j.doze.rise_db])
    yield _by_depth([j for j in judged if j.doze.rise_db and "open" not in j.doze.kind])
    yield _false_alarms([j for j in judged if not j.doze.rise_db])
    if open_recordings():
        yield _open_table()
    yield _cost()


def _judge(doze: Doze) -> _Judged:
    settings = load_settings(LABEL)
    raw = simulated(doze).raw()
    cleaned = clean_recording(raw, ChannelLimits(), 50.0, settings.clean, settings.seed)
    signs = cleaned.quality.drowsy
    return _Judged(doze, drowsiness(signs, doze.blocks, (), settings.replay.drowsy))


def _percent(part: float, whole: float) -> float | None:
    return round(100 * part / whole, 1) if whole else None


def _hits(judged: Sequence[_Judged]) -> Table:
    return Table(
        "drowsy-hits",
        "Drowsy spells in simulated sittings that were suspected, %",
        [
            _hit_row(kind, [j for j in judged if j.doze.kind == kind])
            for kind in KINDS
            if any(j.doze.kind == kind for j in judged)
        ],
        (
            f"Sittings of 10 min, heads other than the template; alpha falls by 4-12 dB, theta "
            f"rises by 2-6 dB; a spell is found from {HIT_SHARE:.0%} on; blocks with 10 s or "
            f"more of drowsiness; false seconds: suspected outside of spells, of all outside.",
        ),
    )


def _hit_row(kind: str, judged: Sequence[_Judged]) -> dict:
    shares = [share for j in judged for share in j.shares()]
    spells_s = [b - a for j in judged for a, b in j.doze.spells]
    inside_s = float(np.dot(shares, spells_s))
    all_s = sum(b - a for j in judged for a, b in j.suspected)
    awake_s = sum(b.stop_s - b.start_s for j in judged for b in j.doze.blocks) - sum(spells_s)
    verdicts = [
        told.verdict
        for j in judged
        for block, told in zip(j.doze.blocks, j.found.blocks, strict=True)
        if j.dozed_s(block) >= 10
    ]
    return {
        "sittings": kind,
        "n": len(judged),
        "spells": len(shares),
        "spells found": _percent(sum(s >= HIT_SHARE for s in shares), len(shares)),
        "seconds found": _percent(inside_s, sum(spells_s)),
        "blocks": len(verdicts),
        "suspect": _percent(verdicts.count("suspect"), len(verdicts)),
        "can't tell": _percent(verdicts.count("cant-tell"), len(verdicts)),
        "false seconds": _percent(all_s - inside_s, awake_s),
    }


def _by_depth(judged: Sequence[_Judged]) -> Table:
    spells = [
        (j.doze.rise_db - j.doze.case.drowsiness.alpha_db, b - a, share)
        for j in judged
        for (a, b), share in zip(j.doze.spells, j.shares(), strict=True)
    ]
    rows = []
    for low, high in DEPTHS_DB:
        row: dict = {"alpha's fall and theta's rise, dB": f"{low:g}-{high:g}"}
        for shortest, longest in LENGTHS_S:
            own = [
                s for depth, long, s in spells if low <= depth < high and shortest <= long < longest
            ]
            row[f"{shortest}-{longest} s: n"] = len(own)
            row[f"{shortest}-{longest} s: found"] = _percent(
                sum(s >= HIT_SHARE for s in own), len(own)
            )
        rows.append(row)
    return Table(
        "drowsy-depth",
        "Spells found by depth and length, eyes closed, %",
        rows,
        ("The same sittings, with and without rolling.",),
    )


def _false_alarms(judged: Sequence[_Judged]) -> Table:
    kinds = [kind for kind in KINDS if any(j.doze.kind == kind for j in judged)]
    return Table(
        "drowsy-false",
        "Simulated awake sittings that were suspected, %",
        [_false_row(kind, [j for j in judged if j.doze.kind == kind]) for kind in kinds],
        (
            "Alpha waxes and wanes by 2 dB (spread) over half a minute and longer; midline "
            "theta stands 3-6 dB over the background for 5-25 s; the last kind is what a "
            "protocol may ask for, without any drowsiness.",
        ),
    )


def _false_row(kind: str, judged: Sequence[_Judged]) -> dict:
    verdicts = [told.verdict for j in judged for told in j.found.blocks]
    suspected_s = sum(b - a for j in judged for a, b in j.suspected)
    all_s = sum(b.stop_s - b.start_s for j in judged for b in j.doze.blocks)
    return {
        "sittings": kind,
        "n": len(judged),
        "seconds": _percent(suspected_s, all_s),
        "blocks": len(verdicts),
        "suspect": _percent(verdicts.count("suspect"), len(verdicts)),
        "no sign found": _percent(verdicts.count("no-sign-found"), len(verdicts)),
        "can't tell": _percent(verdicts.count("cant-tell"), len(verdicts)),
    }


def _open_table() -> Table:
    return Table(
        "drowsy-open",
        "Open recordings of people who count as awake",
        [_open_row(recording) for recording in open_recordings()],
        (
            "Each file is one block. Nobody scored them for drowsiness; they count as awake. "
            "Eyes of the first set are taken as closed, which its authors don't say.",
        ),
    )


def _open_row(recording: OpenRecording) -> dict:
    settings = load_settings(LABEL)
    raw = as_raw(recording.x, STANDARD_19, recording.rate_hz)
    cleaned = clean_recording(
        raw, recording.limits, recording.mains_hz, settings.clean, settings.seed
    )
    quality = cleaned.quality
    eyes = "closed" if recording.cleaned else "open"
    block = Block(1, Kind.PRACTICE, 0.0, quality.duration_s, eyes, "none")
    (told,) = drowsiness(quality.drowsy, (block,), (), settings.replay.drowsy).blocks
    return {
        "file": recording.name,
        "eyes": eyes,
        "seconds": quality.duration_s,
        "looked at": told.looked_s,
        "suspected": told.suspected_s,
        "verdict": told.verdict,
        "without": ", ".join(told.reasons),
    }


def _cost() -> Table:
    rate_hz, minutes = 256.0, 30
    x = 10 * np.random.default_rng(SEED).standard_normal((19, round(minutes * 60 * rate_hz)))
    names, lost = list(STANDARD_19), np.zeros(x.shape[1], bool)
    started = time.process_time()
    copy = slow_copy(x, names, rate_hz)
    measure_drowsy(x, names, rate_hz, lost, copy, None)
    used_s = time.process_time() - started
    row = {"minutes": minutes, "electrodes": 19, "rate Hz": rate_hz, "CPU s": round(used_s, 3)}
    return Table("drowsy-cost", "Measuring the signs, beside the rest of cleaning", [row])
