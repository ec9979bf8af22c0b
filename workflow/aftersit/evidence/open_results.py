"""What one night over all open recordings gave, read from the files that every sitting gets."""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from aftersit.clinic import Clinic, SittingId, bids_stem, eeg_folder
from aftersit.evidence.facts import facts
from aftersit.evidence.open_clinic import Found, found_in, make_open_clinic
from aftersit.evidence.open_effects import Effect
from aftersit.quality import Quality, read_quality
from aftersit.tsv import read_table

POSTERIOR = ("O1", "O2", "P3", "Pz", "P4")
VERDICTS = {
    "no-sign-found": "no sign found",
    "suspect": "suspect",
    "cant-tell": "can't tell",
}
PLACES = {"fast-t7": "T7", "fast-t8": "T8", "fast-fp1": "Fp1"}


def run_open_recordings(open_data: Path, folder: Path) -> "OpenResults":
    """Put every recording into an invented clinic's inbox and run its night."""
    from aftersit.night.run import run_night

    clinic = Clinic(folder / "clinic")
    make_open_clinic(open_data, clinic.root)
    exit_code = run_night(clinic, say=lambda line: None).exit_code
    return OpenResults(clinic, found_in(open_data), exit_code)


@dataclass(frozen=True)
class OpenResults:
    """The clinic after its night.

    Attributes
    ----------
    clinic : Clinic
    recordings : list of Found
    exit_code : int
        Of the night.
    """

    clinic: Clinic
    recordings: list[Found]
    exit_code: int

    def quality(self, sitting: SittingId) -> Quality:
        """The account of cleaning."""
        folder = eeg_folder(self.clinic.derivatives / "clean-s1", sitting)
        return read_quality(folder / f"{bids_stem(sitting)}_desc-clean_eeg.json")

    @cached_property
    def records(self) -> dict[SittingId, dict]:
        """Records as plain data."""
        paths = self.clinic.derivatives.glob("replay-*/sub-*/ses-*/record.json")
        data = [json.loads(path.read_text()) for path in sorted(paths)]
        return {SittingId(one["client"], one["sitting"]): one for one in data}

    def table(self, sitting: SittingId) -> pd.DataFrame:
        """Band power of a sitting."""
        folder = self.clinic.derivatives / "regions-s1" / f"sub-{sitting.client}"
        path = folder / f"ses-{sitting.label}" / f"{bids_stem(sitting)}_bandpower.tsv"
        return read_table(path)

    def level_db(self, sitting: SittingId, band: str, places: tuple[str, ...]) -> float:
        """Mean level of a band over electrodes that served, dB re 1 uV^2."""
        table = self.table(sitting)
        rows = table[(table["band"] == band) & table["place"].isin(places)]
        return float(np.mean(10 * np.log10(rows["power"])))

    def changes_db(
        self, first: str, second: str, band: str, places: tuple[str, ...]
    ) -> dict[str, float]:
        """Person -> change from one kind of recording to the other, where both are there."""
        by_kind = {
            kind: {r.sitting.client: r.sitting for r in self.recordings if r.doing == kind}
            for kind in (first, second)
        }
        return {
            person: self.level_db(by_kind[second][person], band, places)
            - self.level_db(by_kind[first][person], band, places)
            for person in sorted(set(by_kind[first]) & set(by_kind[second]))
        }

    def muscle(self) -> dict[SittingId, dict[str, dict]]:
        """Sitting -> electrode -> finding on fast power there, before cleaning."""
        found = {}
        for sitting, record in self.records.items():
            blocks = (record["muscle"] or {}).get("blocks", ())
            at = {PLACES[b["condition"]]: b["finding"] for b in blocks if b["condition"] in PLACES}
            found[sitting] = at
        return found

    def effects(self) -> tuple[Effect, ...]:
        """Effects known from the literature, with each person's value."""
        calm = ("rest", "arithmetic")
        eyes = ("eyes open", "eyes closed")
        return (
            _effect(
                "Posterior alpha (8-13 Hz) from rest to mental arithmetic",
                "open-alpha",
                self.changes_db(*calm, "alpha", POSTERIOR),
            ),
            _effect(
                "Theta (4-8 Hz) at Fz from rest to mental arithmetic",
                "effect-theta",
                self.changes_db(*calm, "theta", ("Fz",)),
            ),
            _effect(
                "Posterior alpha (8-13 Hz) from open to closed eyes",
                "open-eyes",
                self.changes_db(*eyes, "alpha", POSTERIOR),
            ),
            self._muscle_effect(),
        )

    def _muscle_effect(self) -> Effect:
        rows = []
        for sitting, at in self.muscle().items():
            told = [
                f"{place} {VERDICTS[f['verdict']]}"
                + ("" if f["level_db"] is None else f", {f['level_db']:.1f} dB")
                for place, f in at.items()
            ]
            rows.append((str(sitting), "; ".join(told) or "nothing scored"))
        return Effect(
            "Muscle in 30-44 Hz before cleaning: verdict, and level over paralysed people's",
            _known("effect-muscle"),
            tuple(rows),
            "a verdict is about one recording; no mean is taken",
        )


def _known(fact: str) -> str:
    return f"{facts().facts[fact].says.rstrip('.')} ({facts().cited(fact)})"


def _effect(name: str, fact: str, changes: dict[str, float]) -> Effect:
    rows = tuple((person, f"{value:+.1f} dB") for person, value in changes.items())
    return Effect(name, _known(fact), rows, group_words(np.array(list(changes.values()))))


def group_words(values: np.ndarray) -> str:
    """Mean over people with Student's 95 % interval."""
    from scipy import stats

    if not len(values):
        return "not run: the folder holds no such pair of recordings"
    if len(values) < 2:
        return f"no interval: it takes at least two people, and there are {len(values)}"
    half = stats.t(len(values) - 1).ppf(0.975) * values.std(ddof=1) / np.sqrt(len(values))
    mean = values.mean()
    return (
        f"mean {mean:+.1f} dB, 95 % interval {mean - half:+.1f} to {mean + half:+.1f} dB, "
        f"{len(values)} people"
    )
