"""The room on the disk that sittings need, counted before they are processed."""

import shutil

from aftersit.clinic import Clinic
from aftersit.night.outcome import Outcome
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.night.settings import NightSettings


def needed_mb(clinic: Clinic, planned: PlannedSitting, night: NightSettings) -> float:
    """Megabytes that all files made of a sitting may take, by the size of its recording."""
    folder = clinic.root / planned.first_original
    recorded_mb = sum(p.stat().st_size for p in folder.iterdir() if p.is_file()) / 10**6
    return night.disk_per_sitting_mb + night.disk_per_recorded_mb * recorded_mb


def without_those_too_large(
    clinic: Clinic, plan: Plan, night: NightSettings
) -> tuple[Plan, list[Outcome]]:
    """Keep, in their order, the sittings that the free disk has room for.

    `disk_reserve_mb` stays free.
    """
    free_mb = shutil.disk_usage(clinic.root).free / 10**6
    room_mb = free_mb - night.disk_reserve_mb
    good, bad = [], []
    for planned in plan.sittings:
        need_mb = needed_mb(clinic, planned, night)
        if need_mb <= room_mb:
            room_mb -= need_mb
            good.append(planned)
        else:
            reason = (
                f"it may need {need_mb:.0f} MB; {free_mb:.0f} MB were free and "
                f"{night.disk_reserve_mb} MB of them stay free: make room on the disk"
            )
            bad.append(Outcome(planned, "disk", reason))
    return Plan(sittings=tuple(good)), bad
