"""Score many sittings in few processes: starting Python for each would cost more than the replay.

A sitting that fails, hangs or is killed harms only itself.
"""

import os
import resource
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path

from aftersit.change.made_from import SMALL, input_files, made_from, read_made_from, write_made_from
from aftersit.children import end_with_parent
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.facts import facts_file
from aftersit.night.kept_settings import settings_file
from aftersit.night.layout import CLEAN, HEAD, RAW, REGIONS, REPLAY
from aftersit.night.plan import PlannedSitting
from aftersit.night.settings import NightSettings
from aftersit.protocol import Protocol, protocol_path
from aftersit.replay.files import Inputs, replay_files, write_replayed
from aftersit.settings import Settings, read_settings
from aftersit.trouble import in_words, where

STANDS = ("protocol", "settings", *SMALL)


@dataclass(frozen=True)
class Job:
    """One sitting to score under one protocol version."""

    planned: PlannedSitting
    protocol: str

    @property
    def version(self) -> int:
        return self.planned.protocols[self.protocol]

    @property
    def folder(self) -> Path:
        """Where the results go, from the clinic's folder."""
        return Path(self.planned.place(REPLAY, protocol=self.protocol, version=self.version))

    @property
    def inputs(self) -> Inputs:
        place = self.planned.place
        return Inputs(
            raw=Path(place(f"{RAW}_eeg.vhdr")),
            clean=Path(place(f"{CLEAN}_eeg.vhdr")),
            regions=Path(place(f"{REGIONS}_regions.npz")),
            head=Path(place(HEAD)),
            cross=Path(place(f"{REGIONS}_cross.npz")),
        )


@dataclass(frozen=True)
class Scored:
    """What became of a job; `error` is None when all went well.

    `mended`: results lay there that were not as they had been written.
    """

    job: Job
    error: str | None = None
    stood_already: bool = False
    mended: bool = False
    cpu_s: float = 0.0


def rescore(clinic: Clinic, jobs: Sequence[Job], night: NightSettings) -> Iterator[Scored]:
    """Score all jobs in `night.cores` processes, and tell of each as it ends.

    A process that dies takes others' jobs with it: those are done again one by one.
    """
    left = list(jobs)
    try:
        for scored in _in_pool(clinic, left, night, night.cores):
            left.remove(scored.job)
            yield scored
    except BrokenProcessPool:
        for job in left:
            yield from _alone(clinic, job, night)


def _alone(clinic: Clinic, job: Job, night: NightSettings) -> Iterator[Scored]:
    try:
        yield from _in_pool(clinic, [job], night, 1)
    except BrokenProcessPool:
        yield Scored(job, "it was killed, perhaps for lack of memory")


def _in_pool(
    clinic: Clinic, jobs: Sequence[Job], night: NightSettings, processes: int
) -> Iterator[Scored]:
    import mne.io  # noqa: F401  (once here, instead of in every child)

    root = clinic.root.resolve()
    options = {
        "max_workers": min(processes, max(1, len(jobs))),
        "mp_context": get_context("fork"),
        "initializer": _begin,
        "initargs": (root, night.step_memory_mb, os.getpid()),
    }
    with ProcessPoolExecutor(**options) as pool:
        running = [pool.submit(_score, job, night.step_seconds) for job in jobs]
        for done in as_completed(running):
            yield done.result()


def _begin(root: Path, memory_mb: int, parent: int) -> None:
    end_with_parent(parent)
    os.chdir(root)  # all paths count from the clinic's folder, so that none depends on its name
    resource.setrlimit(resource.RLIMIT_AS, (memory_mb * 10**6,) * 2)
    signal.signal(signal.SIGALRM, _too_long)


def _too_long(*_) -> None:
    raise AftersitError("it took more than `step_seconds` and was stopped")


def _score(job: Job, seconds: float) -> Scored:
    started = os.times()
    signal.alarm(int(seconds))
    try:
        stood, mended = score_one(job)
    except AftersitError as error:
        return Scored(job, f"{error}")
    except MemoryError:
        return Scored(job, "it needs more memory than `step_memory_mb` allows")
    except OSError as error:
        return Scored(job, in_words(error))
    except Exception as error:  # a fault of ours must not stop the other sittings
        kind = where(error).splitlines()[-1]
        return Scored(job, f"it failed in a way that this program does not know ({kind})")
    finally:
        signal.alarm(0)
    used = os.times()
    return Scored(job, None, stood, mended, used.user + used.system - started.user - started.system)


def score_one(job: Job) -> tuple[bool, bool]:
    """Score one sitting, in the clinic's folder.

    Returns
    -------
    stood : bool
        Its results stood already; nothing was written.
    mended : bool
        What lay there rests on the same files but somebody changed it since.
    """
    clinic = Clinic(Path())
    settings_path = settings_file(clinic, job.planned.settings)
    protocol_file = protocol_path(clinic.kept_protocols, job.protocol, job.version)
    facts = facts_file(clinic, job.planned.sitting)
    files = input_files(job.inputs, protocol_file, settings_path, facts)
    label, settings = job.planned.settings, _settings(settings_path)
    before, same = read_made_from(job.folder), False
    if before:
        same = before.same(made_from(files, label, settings, STANDS), STANDS)
        if same and before.results_stand():
            return True, False
    replayed = replay_files(job.inputs, _protocol(protocol_file), label, settings)
    write_replayed(replayed, job.folder)
    write_made_from(made_from(files, label, settings), job.folder)  # last: it vouches for the rest
    return False, same


@cache
def _settings(path: Path) -> Settings:
    return read_settings(path)


@cache
def _protocol(path: Path) -> Protocol:
    return Protocol.from_yaml(path)
