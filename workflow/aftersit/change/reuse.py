"""What a change of settings or algorithms leaves as it is is linked, not computed again."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from aftersit.algorithms import changed_since, split_label
from aftersit.clinic import Clinic
from aftersit.head.region_set import read_regions
from aftersit.night.kept_settings import clinic_settings, regions_file
from aftersit.night.layout import CLEAN, HEAD, REGIONS
from aftersit.night.plan import PlannedSitting


@dataclass(frozen=True)
class Reusable:
    """Which stages give the same under both labels."""

    clean: bool
    head: bool
    regions: bool

    @property
    def everything(self) -> bool:
        """Whether nothing before the replay has to be computed."""
        return self.clean and self.head and self.regions


def reusable(clinic: Clinic, old: str, new: str) -> Reusable:
    """Compare two labels, stage by stage; a stage needs those before it to be the same.

    Raises
    ------
    AftersitError
        A label that is unknown.
    """
    one, two = (clinic_settings(clinic, label) for label in (old, new))
    changed = _changed_stages(old, new)
    seed = one.seed == two.seed
    clean = seed and one.clean == two.clean and "clean" not in changed
    head = seed and one.head == two.head and "regions" not in changed
    sets = [read_regions(regions_file(clinic, label)) for label in (old, new)]
    return Reusable(clean, head, clean and head and sets[0] == sets[1])


def _changed_stages(old: str, new: str) -> set[str]:
    low, high = sorted(split_label(label)[1] for label in (old, new))
    return {s for v in changed_since(low) if v.number <= high for s in v.stages}


def link_stages(clinic: Clinic, one: PlannedSitting, old: str, new: str, same: Reusable) -> None:
    """Give a label the files of another for the stages that are the same."""
    if old == new:
        return
    places = []
    if same.clean:
        places.append(_folder(one, CLEAN))
    if same.head:
        places.append(str(Path(HEAD).parent))
    if same.regions:
        places.append(_folder(one, REGIONS))
    for place in places:
        source, target = (clinic.root / place.format(settings=label) for label in (old, new))
        _link_tree(source, target)
    if same.clean:
        root = "derivatives/clean-{settings}/dataset_description.json"
        _link(clinic.root / root.format(settings=old), clinic.root / root.format(settings=new))


def _folder(one: PlannedSitting, pattern: str) -> str:
    filled = pattern.replace("{settings}", "{{settings}}")
    return str(Path(filled.format(client=one.client, sitting=one.sitting.label)).parent)


def _link_tree(source: Path, target: Path) -> None:
    for folder, _, names in os.walk(source):
        for name in sorted(names):
            path = Path(folder, name)
            _link(path, target / path.relative_to(source))


def _link(source: Path, target: Path) -> None:
    """One more name for the same bytes; a copy where the disk has no such names."""
    if not source.is_file() or (target.exists() and os.path.samefile(source, target)):
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    target.unlink(missing_ok=True)
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)
