"""Prove that every byte that came is there, and that results are what they were."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from aftersit.archive.standing import standing
from aftersit.clinic import Clinic, SittingId
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.names import shown
from aftersit.night.contents import Contents, coded, contents
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.moving import SHEET, set_aside_contents
from aftersit.night.plan import planned
from aftersit.night.recompute import choose, other_inputs, recompute
from aftersit.night.register import Holdings, Register
from aftersit.night.session import at_work
from aftersit.night.stamp import broken
from aftersit.protocol import load_protocol

Say = Callable[[str], None]


def audit(clinic: Clinic, sample: int, seed: int, say: Say) -> list[str]:
    """Check everything, and say what was found.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    sample : int
        How many finished sittings to compute again, from the uploaded bytes on.
    seed : int
        Chooses them.
    say : callable
        Gets one line at a time; codes, and names of upload folders, only.

    Returns
    -------
    list of str
        What is not as it must be; empty when all is well.

    Raises
    ------
    AlreadyRunningError
        A night is running.
    """
    clinic.read_settings()
    with at_work(clinic) as lock:
        kept = Kept(clinic, Register(clinic).holdings(), Ledger(clinic))
        say(kept.summary())
        exports = standing(clinic)
        say(f"exports: {exports.whole} are whole")
        found = [*kept.lost(), *kept.unknown(), *kept.results(), *exports.broken]
        same = [e for e in kept.finished if kept.whole(e) and not kept.changed[e.sitting]]
        chosen = choose(same, sample, seed)
        if chosen:
            say(f"computing again (seed {seed}): {', '.join(str(e.sitting) for e in chosen)}")
            found += recompute(clinic, chosen, lock)
        for line in (*kept.notes(), *exports.notes):
            say(f"note: {line}")
    for line in found:
        say(f"not as it must be: {line}")
    wrong = counted(len(found), "thing")
    say(f"not as it must be: {wrong}" if found else "all is as it must be")
    return found


@dataclass(frozen=True)
class Kept:
    """What a clinic must hold by its register and ledger, beside what it holds."""

    clinic: Clinic
    holdings: Holdings
    ledger: Ledger

    @cached_property
    def there(self) -> Holdings:
        """What really lies in every place of the register."""
        return {place: self._contents(place) for place in self.holdings}

    @cached_property
    def finished(self) -> list[Entry]:
        return [e for e in self.ledger.entries() if self.ledger.is_finished(e)]

    @cached_property
    def changed(self) -> dict[SittingId, list[str]]:
        """Files that a finished sitting rests on and that changed since, by their names."""
        return {e.sitting: other_inputs(self.clinic, e) for e in self.finished}

    def summary(self) -> str:
        """How much there is to check."""
        files = sum(map(len, self.holdings.values()))
        erased = len(list((self.clinic.state / "erased").glob("*.json")))
        waiting = sum(not p.name.startswith(".") for p in self.clinic.inbox.iterdir())
        aside = sum(place.startswith("set-aside/") for place in self.holdings)
        return (
            f"{files} files in {len(self.holdings)} places came; {aside} uploads are set aside, "
            f"{waiting} wait in the inbox; clients erased on request: {erased}"
        )

    def lost(self) -> Iterator[str]:
        """Bytes that came and are not there, or not the same."""
        for place, files in self.holdings.items():
            aside = place.startswith("set-aside/")
            missing = self._missing_aside(place) if aside else self._missing(place)
            if aside and missing and not self.there[place]:
                yield f"{place} is gone; it was neither sent again nor erased"
                continue
            for number, name in ((n, m) for n, m in enumerate(files, 1) if m in missing):
                what = "changed" if name in self.there[place] else "gone"
                meant = "; if that was meant, send the upload again with `retry`" if aside else ""
                yield f"{place}: file {number} of {len(files)} is {what}{meant}"

    def _missing(self, place: str) -> list[str]:
        """Files of a place that are gone or other bytes."""
        there, files = self.there[place], self.holdings[place]
        return [name for name, found in files.items() if there.get(name) != found]

    def _missing_aside(self, place: str) -> list[str]:
        """The same of a set-aside upload, where people correct sheets and move files on.

        A changed sheet is what `why.txt` asks for; of an upload that went elsewhere
        the sheet may have been changed there.
        """
        there, files = self.there[place], self.holdings[place]
        lost = [name for name in self._missing(place) if files[name] not in self._everywhere]
        went_elsewhere = not there and lost == [SHEET] and len(files) > 1
        excused = SHEET if SHEET in there or went_elsewhere else None
        return [name for name in lost if name != excused]

    @cached_property
    def _everywhere(self) -> set[str]:
        """Checksums of all that lies in places of the register and in the inbox."""
        kept = {found for files in self.there.values() for found in files.values()}
        return kept | set(contents(self.clinic.inbox).values())

    def whole(self, entry: Entry) -> bool:
        """Whether all bytes that a sitting is made from are there."""
        places = (self.clinic.original(entry.sitting, r.number) for r in entry.revisions)
        names = [str(place.relative_to(self.clinic.root)) for place in places]
        return all(name in self.holdings and not self._missing(name) for name in names)

    def unknown(self) -> Iterator[str]:
        """Places and entries that the register does not know, or the ledger does not."""
        entries = {
            str(self.clinic.original(e.sitting, r.number).relative_to(self.clinic.root))
            for e in self.ledger.entries()
            for r in e.revisions
        }
        registered = {place for place in self.holdings if place.startswith("originals/")}
        on_disk = {
            shown(str(p.relative_to(self.clinic.root)))
            for p in self.clinic.root.glob("originals/*/*/*")
        }
        yield from (f"{place}: its ledger entry is gone" for place in sorted(registered - entries))
        yield from (f"{place}: it never came here" for place in sorted(on_disk - registered))
        yield from (f"{place}: no record of its files" for place in sorted(entries - registered))
        for place in sorted(on_disk & registered):
            if set(self.there[place]) - set(self.holdings[place]):
                yield f"{place}: it holds files that did not come with it"

    def results(self) -> Iterator[str]:
        """Results that are not the bytes that were finished."""
        for entry in self.finished:
            wrong = broken(self.clinic, planned(entry))
            if wrong:
                yield f"{entry.sitting}: changed since it was finished: {', '.join(wrong)}"
            if f"{entry.settings}.yaml" in self.changed[entry.sitting]:
                yield f"{entry.sitting}: settings {entry.settings} were edited since it was made"

    def notes(self) -> Iterator[str]:
        """What a person may have done on purpose."""
        for place, files in self.holdings.items():
            if place.startswith("set-aside/") and self.there[place] not in (files, {}):
                yield f"{place} was changed since it was set aside; send it again with `retry`"
        for path in sorted(self.clinic.kept_protocols.glob("*/v*.yaml")):
            name, version = path.parent.name, int(path.stem[1:])
            if not _says_the_same(self.clinic, name, version):
                yield f"protocols/{name}/{path.name} does not say what it said at its first use"
        other = sum(bool(names) for names in self.changed.values())
        if other:
            yield (
                "made with another clinic.yaml, words.yaml or settings, so that pages can't be "
                f"compared with new ones: {counted(other, 'sitting')}"
            )
        for path in sorted((self.clinic.state / "erased").glob("*.json")):
            told = json.loads(path.read_text())
            yield f"a client was erased on {told['date']} ({counted(told['sittings'], 'sitting')})"

    def _contents(self, place: str) -> Contents:
        path = self._path(place)
        if place.startswith("set-aside/"):
            return coded(set_aside_contents(path))
        return coded(contents(path))

    def _path(self, place: str) -> Path:
        """Names of odd bytes are found by how they are written."""
        path = self.clinic.root / place
        if not path.exists() and path.parent.is_dir():
            same = (p for p in path.parent.iterdir() if shown(p.name) == path.name)
            return next(same, path)
        return path


def _says_the_same(clinic: Clinic, name: str, version: int) -> bool:
    try:
        both = [
            load_protocol(folder, name, version)
            for folder in (clinic.protocols, clinic.kept_protocols)
        ]
    except AftersitError:
        return False
    return both[0] == both[1]
