"""A clinic's head model and what is measured with it."""

from collections.abc import Collection
from itertools import product

from aftersit.algorithms import current, label_of
from aftersit.clinic import Clinic
from aftersit.head.kept import Model
from aftersit.head.region_set import read_regions
from aftersit.night.contents import contents
from aftersit.night.kept_settings import clinic_settings, regions_file
from aftersit.night.layout import HEAD, PLAUSIBLE
from aftersit.night.plan import Plan
from aftersit.night.progress import MODEL_RULES
from aftersit.night.register import Register


def clinic_model(clinic: Clinic) -> Model:
    """What the region measures of a clinic are made from, under its settings in force."""
    label = label_of(clinic.read_settings().settings, current())
    settings = clinic_settings(clinic, label)
    return Model(
        head=clinic.root / HEAD.format(settings=label),
        plausible=clinic.root / PLAUSIBLE.format(settings=label),
        settings=settings.head,
        regions=read_regions(regions_file(clinic, label)),
        seed=settings.seed,
    )


def register_models(clinic: Clinic, plan: Plan, ran: Collection[str]) -> None:
    """Keep the checksums of the models that all results of a plan's settings rest on.

    Parameters
    ----------
    ran : collection of str
        Rules that have just run.
    """
    register, made_anew = Register(clinic), not MODEL_RULES.isdisjoint(ran)
    known = register.holdings()
    for label, pattern in product(plan.labels, (HEAD, PLAUSIBLE)):
        place = pattern.format(settings=label)
        if (clinic.root / place).is_file() and (made_anew or place not in known):
            register.add(place, contents(clinic.root / place))
