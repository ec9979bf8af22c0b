"""A clinic's head model and what is measured with it."""

from aftersit.clinic import Clinic
from aftersit.head.kept import Model
from aftersit.head.region_set import clinic_regions
from aftersit.night.layout import HEAD, PLAUSIBLE
from aftersit.settings import load_settings


def clinic_model(clinic: Clinic) -> Model:
    """What the region measures of a clinic are made from, under its settings in force."""
    label = clinic.read_settings().settings
    settings = load_settings(label)
    return Model(
        head=clinic.root / HEAD.format(settings=label),
        plausible=clinic.root / PLAUSIBLE.format(settings=label),
        settings=settings.head,
        regions=clinic_regions(clinic.root),
        seed=settings.seed,
    )
