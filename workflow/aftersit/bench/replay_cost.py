"""What the replay costs: arrays in memory, and rescoring from files."""

import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from aftersit.bench.cost import cost_of
from aftersit.bench.heads import LABEL, template_file, template_head
from aftersit.bench.replay_sittings import (
    as_sitting,
    protocol_of,
    regions_of,
    settings,
    untouched,
)
from aftersit.bench.table import Table
from aftersit.blocks import Block, to_events
from aftersit.electrodes import STANDARD_19
from aftersit.files import write_json
from aftersit.head.measures import save_region_measures
from aftersit.protocol import Protocol
from aftersit.quality import Quality
from aftersit.replay.case import both_values, make_case
from aftersit.replay.files import Inputs, replay_files, write_replayed
from aftersit.replay.sitting import replay_sitting
from aftersit.sheet import Kind

SEED = 51500
MINUTES, QUICK_MINUTES = 30, 3
RATE_HZ = 256.0
REPEATS, QUICK_REPEATS = 5, 2
MANY, CORES = 1000, 2


def cost_tables(quick: bool) -> Iterator[Table]:
    """Both replays, what they tell, and rescoring."""
    minutes, repeats = (QUICK_MINUTES, QUICK_REPEATS) if quick else (MINUTES, REPEATS)
    yield _in_memory(minutes, repeats)
    yield _from_files(minutes, repeats)


def _protocol() -> Protocol:
    def condition(name, where, band_hz, direction, db):
        return {
            "name": name,
            "where": where,
            "band_hz": band_hz,
            "direction": direction,
            "threshold": {"db_over_baseline": db},
        }

    return protocol_of(
        condition("insula", {"region": "insula", "hemisphere": "right"}, (25, 42), "above", 0.2),
        condition("back", {"region": "precuneus"}, (8, 13), "above", 0.2),
        condition("front", {"electrodes": ["Fz"]}, (4, 8), "above", 0.2),
        condition("jaw", {"electrodes": ["T7", "T8"]}, (30, 45), "below", 2.0),
    )


def _blocks(minutes: float) -> tuple[Block, ...]:
    """A baseline and four practice blocks with breaks between."""
    edges = np.array([0, 2, 8, 8.5, 15, 15.5, 22, 22.5, 30]) * 60 * minutes / 30
    kinds = [Kind.BASELINE, *[Kind.PRACTICE, Kind.BREAK] * 3, Kind.PRACTICE]
    return tuple(
        Block(i, kind, float(a), float(b), "closed", "bench")
        for i, (kind, a, b) in enumerate(zip(kinds, edges, edges[1:], strict=False), 1)
    )


def _noise_uv(minutes: float) -> np.ndarray:
    rng = np.random.default_rng(SEED)
    return 10 * rng.standard_normal((19, round(minutes * 60 * RATE_HZ)))


def _in_memory(minutes: float, repeats: int) -> Table:
    signal, protocol, chosen = _noise_uv(minutes), _protocol(), settings()
    found = as_sitting(signal, untouched(signal, RATE_HZ), RATE_HZ, _blocks(minutes), protocol)
    case = make_case(found, protocol, chosen.replay)
    both_s = _cpu_s(lambda: both_values(case), repeats)
    all_s = _cpu_s(lambda: replay_sitting(found, protocol, chosen.replay, chosen.seed), repeats)
    return Table(
        "cost",
        f"Processor seconds for {minutes} minutes of 19 electrodes at 256 Hz, 4 conditions",
        [
            {"what": "both replays", "cpu_s": round(both_s, 2)},
            {"what": "record, insight and muscle on top", "cpu_s": round(all_s - both_s, 2)},
        ],
        (f"Least of {repeats} runs in one process, imports aside; single-threaded.",),
    )


def _cpu_s(work, repeats: int) -> float:
    costs = []
    for _ in range(repeats):
        started = time.process_time()
        work()
        costs.append(time.process_time() - started)
    return min(costs)


def _from_files(minutes: float, repeats: int) -> Table:
    with tempfile.TemporaryDirectory() as folder:
        inputs = _written(Path(folder), minutes)
        one = cost_of(rescore, inputs, 1, Path(folder) / "out")
        more = cost_of(rescore, inputs, 1 + repeats, Path(folder) / "out")
    each_s = (more.cpu_s - one.cpu_s) / repeats
    return Table(
        "rescoring",
        f"Rescoring sittings of {minutes} minutes from their files in one process",
        [
            {
                "cpu_s_each": round(each_s, 2),
                "cpu_s_to_start": round(one.cpu_s - each_s, 2),
                "peak_mb": round(more.peak_mb),
                f"minutes_for_{MANY}_on_{CORES}_cores": round(MANY * each_s / CORES / 60, 1),
            }
        ],
        (
            "Reading both recordings, both replays, muscle evidence, record and timelines "
            f"written; no pages. {MANY} sittings are reckoned from {repeats}.",
        ),
    )


def rescore(inputs: Inputs, times: int, out: Path) -> None:
    """Replay the same files several times."""
    chosen, protocol = settings(), _protocol()
    for _ in range(times):
        write_replayed(replay_files(inputs, protocol, LABEL, chosen), out)


def _written(folder: Path, minutes: float) -> Inputs:
    """Files as the stages before leave them."""
    stem = "sub-BENCH_ses-01_task-sitting"
    signal = _noise_uv(minutes)
    template_head()
    raw, clean = folder / f"{stem}_eeg.vhdr", folder / f"{stem}_desc-clean_eeg.vhdr"
    for path in (raw, clean):
        _write_signal(path, signal * 1e-6)
    quality: Quality = untouched(signal, RATE_HZ).quality
    write_json(clean.with_suffix(".json"), {"Quality": quality.model_dump(mode="json")})
    write_json(raw.with_suffix(".json"), {"Practice": "other", "PowerLineFrequency": 50})
    events = to_events(list(_blocks(minutes)))
    events.to_csv(folder / f"{stem}_events.tsv", sep="\t", index=False)
    save_region_measures(regions_of(STANDARD_19), folder / "regions.npz")
    return Inputs(raw, clean, folder / "regions.npz", template_file())


def _write_signal(path: Path, samples: np.ndarray) -> None:
    import pybv

    pybv.write_brainvision(
        data=samples,
        sfreq=RATE_HZ,
        ch_names=list(STANDARD_19),
        fname_base=path.stem,
        folder_out=path.parent,
        fmt="binary_float32",
        unit="\N{MICRO SIGN}V",
    )
