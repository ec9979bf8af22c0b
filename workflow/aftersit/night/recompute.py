"""Make results again, apart, from the uploaded bytes on, and compare them byte for byte.

The models take minutes and are the same for all; their checksums are in the register.
"""

import random
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.contents import contents
from aftersit.night.layout import HEAD, PLAUSIBLE, REPORT, SITTING
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.outcome import outcome_of
from aftersit.night.plan import Plan, PlannedSitting, plan_of
from aftersit.night.provenance import read_inputs, sums_of_inputs
from aftersit.night.run_plan import run_plan
from aftersit.night.settings import load_night_settings
from aftersit.pages.review import review_path

_FOR_ALL = ("clinic.yaml", "words.yaml", "regions.yaml")
_NOT_COMPARED = ("provenance.json",)


def choose(entries: Sequence[Entry], count: int, seed: int) -> list[Entry]:
    """Some of the entries, in their order; the same seed takes the same."""
    taken = random.Random(seed).sample(range(len(entries)), min(count, len(entries)))
    return [entries[number] for number in sorted(taken)]


def other_inputs(clinic: Clinic, entry: Entry) -> list[str]:
    """Names of files (settings, clinic.yaml, words.yaml) that changed since a sitting was made."""
    made_with, now = read_inputs(clinic, entry.sitting), sums_of_inputs(clinic, entry.settings)
    return [name for name in {**made_with, **now} if made_with.get(name) != now.get(name)]


def recompute(clinic: Clinic, entries: Sequence[Entry], lock: int) -> list[str]:
    """Compute these sittings again; returns what does not come out the same."""
    with apart(clinic, entries) as place:
        plan = plan_of(entries)
        run_plan(place, plan, load_night_settings(), lock)
        return _differences(clinic, place, plan)


@contextmanager
def apart(clinic: Clinic, entries: Sequence[Entry]) -> Iterator[Clinic]:
    """A clinic with all that these sittings are made from, and no results; it goes afterwards."""
    place = Clinic(clinic.state / "audit")
    shutil.rmtree(place.root, ignore_errors=True)
    try:
        _copy_inputs(clinic, place, entries)
        yield place
    finally:
        shutil.rmtree(place.root, ignore_errors=True)


def _copy_inputs(clinic: Clinic, place: Clinic, entries: Sequence[Entry]) -> None:
    place.root.mkdir(parents=True)
    for name in _FOR_ALL:
        if (clinic.root / name).is_file():
            shutil.copyfile(clinic.root / name, place.root / name)
    shutil.copytree(clinic.kept_protocols, place.kept_protocols)
    if clinic.kept_settings.is_dir():
        shutil.copytree(clinic.kept_settings, place.kept_settings)
    models = [p.format(settings=e.settings) for e in entries for p in (HEAD, PLAUSIBLE)]
    for model in filter(lambda m: (clinic.root / m).is_file(), models):
        (place.root / model).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(clinic.root / model, place.root / model)
    for entry in entries:
        Ledger(place).write(entry.model_copy(update={"finished": None}))
        sitting = clinic.original(entry.sitting, 1).parent
        shutil.copytree(sitting, place.original(entry.sitting, 1).parent)
        review = review_path(clinic, entry.sitting)
        if review.is_file():
            review_path(place, entry.sitting).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(review, review_path(place, entry.sitting))


def _differences(clinic: Clinic, place: Clinic, plan: Plan) -> list[str]:
    found = []
    for one in plan.sittings:
        failed = outcome_of(place, one).failed_stage
        if failed:
            found.append(f"{one.sitting}: computing it again failed at {failed}")
            continue
        for part in _parts(one):
            found += [f"{path} comes out otherwise" for path in differences_in(clinic, place, part)]
    return found


def _parts(one: PlannedSitting) -> list[str]:
    """Folders and files that hold a sitting's results."""
    folders = [f"bids/{SITTING}", f"derivatives/clean-{{settings}}/{SITTING}"]
    folders += [f"derivatives/regions-{{settings}}/{SITTING}", REPORT]
    return [one.place(folder) for folder in folders] + one.replay_folders


def differences_in(clinic: Clinic, place: Clinic, part: str) -> list[str]:
    """Files of a part of two clinics that are not the same; `provenance.json` may differ."""
    ours, again = contents(clinic.root / part), contents(place.root / part)
    names = {n for n in {*ours, *again} if Path(n).name not in _NOT_COMPARED}
    return sorted(f"{part}/{n}".removesuffix("/.") for n in names if ours.get(n) != again.get(n))
