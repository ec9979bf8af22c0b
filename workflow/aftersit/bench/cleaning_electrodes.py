"""Electrode faults: how many of those put in are found, and how many good ones are called bad."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aftersit.bench.injected import Bad, electrode_faults
from aftersit.bench.recordings import Recording, opened, simulated
from aftersit.bench.sittings import as_raw
from aftersit.bench.table import Table
from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError

SEED = 61000
MINUTES, LONGEST_S = 3.0, 90.0
ONE_IN = 4
"""pyprep is slow; it sees each fault in every fourth recording."""
SMALL = (
    "0.5 x its own size",
    "50 uV pops",
)
"""Faults that change an electrode by less than it changes by itself."""


@dataclass(frozen=True)
class Tried:
    """One fault in one recording: whether it was found, with its reason, and what else was.

    `theirs` are the electrodes that pyprep calls bad; None where it was not asked.
    """

    bad: Bad
    source: str
    found: bool
    reason: bool
    false: int
    n_good: int
    theirs: frozenset[str] | None

    @property
    def found_by_theirs(self) -> bool:
        return self.theirs is not None and _hit(self.bad, self.theirs)

    @property
    def false_of_theirs(self) -> int:
        return len((self.theirs or frozenset()) - set(self.bad.electrodes))


def electrode_tables(quick: bool) -> Iterator[Table]:
    """Sensitivity by kind and size, and false alarms."""
    tried = [one for n, base in enumerate(_bases(quick)) for one in _try(base, n, quick)]
    yield Table(
        "electrodes",
        "electrode faults found, %",
        [*_rows(tried), *_totals(tried)],
        notes=(
            "one fault in each recording; simulated sittings of other heads (a third without "
            "muscle, a third with the jaw at 6 dB, a third with jaw 10 dB, brow and neck 3 dB) "
            "and the first 90 s of each open recording",
            "sizes: contact noise over the electrode's own root mean square, 1-20 Hz; drift as "
            "standard deviation within 5 s; six pops a minute; bridges differ by the noise",
            f"pyprep: NoisyChannels with all its tests, in one of {ONE_IN} recordings; it does "
            "not look for exchanged electrodes",
        ),
    )
    yield Table("electrodes-false", "good electrodes called bad, %", list(_false_rows(tried)))


def _bases(quick: bool) -> Iterator[Recording]:
    yield from simulated(1 if quick else 6, 1.0 if quick else MINUTES, SEED)
    yield from opened(1 if quick else 9, 60.0 if quick else LONGEST_S)


def _try(base: Recording, number: int, quick: bool) -> Iterator[Tried]:
    already = set(base.faults(base.x).found.reasons)
    faults = electrode_faults(np.random.default_rng([SEED, number]))
    for k, bad in enumerate(faults[:: 5 if quick else 1]):
        x = bad.into(base.x, base.rate_hz, SEED + 100 * number + k, base.limits.high_hz)
        reasons = base.faults(x).found.reasons
        ask = (k + number) % ONE_IN == 0
        yield Tried(
            bad=bad,
            source=base.source,
            found=_hit(bad, reasons),
            reason=any(bad.kind in reasons.get(name, ()) for name in bad.electrodes),
            false=len(set(reasons) - set(bad.electrodes) - already),
            n_good=len(STANDARD_19) - len(bad.electrodes),
            theirs=_theirs(x, base.rate_hz) if ask else None,
        )


def _hit(bad: Bad, called) -> bool:
    """A bridge costs one of its two electrodes; of exchanged ones both must go."""
    hits = [name in called for name in bad.electrodes]
    return any(hits) if bad.kind == "bridged" else all(hits)


def _theirs(x: np.ndarray, rate_hz: float) -> frozenset[str]:
    try:
        from pyprep import NoisyChannels
    except ImportError:
        raise AftersitError(
            "this bench compares with pyprep; run scripts/aftersit test once, it sets that up"
        ) from None
    import mne

    raw = as_raw(x, STANDARD_19, rate_hz)
    with mne.utils.use_log_level("ERROR"):
        raw.set_montage("fsaverage_1020")
        noisy = NoisyChannels(raw, random_state=SEED)
        noisy.find_all_bads(ransac=True)
    return frozenset(noisy.get_bads())


def _rows(tried: list[Tried]) -> Iterator[dict]:
    for bad in electrode_faults(np.random.default_rng(0)):
        yield _row(bad.kind, bad.what, [t for t in tried if t.bad.what == bad.what])


def _totals(tried: list[Tried]) -> Iterator[dict]:
    yield _row("all", "all sizes", tried)
    yield _row("all", "but the small", [t for t in tried if t.bad.what not in SMALL])


def _row(kind: str, what: str, tried: list[Tried]) -> dict:
    asked = [t for t in tried if t.theirs is not None]
    return {
        "kind": kind,
        "fault": what,
        "cases": len(tried),
        "found_percent": _percent([t.found for t in tried]),
        "simulated": _percent([t.found for t in tried if t.source == "simulated"]),
        "open": _percent([t.found for t in tried if t.source == "open"]),
        "right_reason": _percent([t.reason for t in tried]),
        "pyprep_cases": len(asked),
        "pyprep_found": _percent([t.found_by_theirs for t in asked]),
    }


def _false_rows(tried: list[Tried]) -> Iterator[dict]:
    for source in ("simulated", "open"):
        own = [t for t in tried if t.source == source]
        asked = [t for t in own if t.theirs is not None]
        yield {
            "recordings": source,
            "good_electrodes": sum(t.n_good for t in own),
            "called_bad_percent": _share([t.false for t in own], [t.n_good for t in own]),
            "pyprep": _share([t.false_of_theirs for t in asked], [t.n_good for t in asked]),
        }


def _percent(hits: list[bool]) -> float | None:
    return round(100 * float(np.mean(hits)), 1) if hits else None


def _share(some: list[int], of: list[int]) -> float | None:
    return round(100 * sum(some) / sum(of), 2) if of else None
