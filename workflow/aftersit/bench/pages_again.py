"""A sitting's pages written once more, for the bench; nothing is imported but what that needs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aftersit.collector import without_collector

if TYPE_CHECKING:
    from aftersit.clinic import SittingId


@without_collector()
def write_again(root: Path, sitting: SittingId) -> None:
    """Write a sitting's pages, as the workflow's step does."""
    from aftersit.clinic import Clinic
    from aftersit.night import layout
    from aftersit.night.ledger import Ledger
    from aftersit.night.plan import planned
    from aftersit.pages.inputs import SittingFiles
    from aftersit.pages.sitting import write_pages

    clinic = Clinic(root)
    one = planned(Ledger(clinic).read(sitting))
    places = {
        "sheet": one.sheet,
        "events": one.place(f"{layout.RAW}_events.tsv"),
        "quality": one.place(f"{layout.CLEAN}_eeg.json"),
        "bandpower": one.place(f"{layout.REGIONS}_bandpower.tsv"),
        "spectra": one.place(f"{layout.REGIONS}_spectra.tsv"),
        "regions": one.place(f"{layout.REGIONS}_regions.npz"),
        "head": one.place(layout.HEAD),
    }
    files = SittingFiles(
        records=[root / record for record in one.records],
        protocols=clinic.kept_protocols,
        **{name: root / place for name, place in places.items()},
    )
    write_pages(clinic, sitting, one.date, one.settings, files, clinic.report(sitting))
