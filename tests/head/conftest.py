"""The template head, solved once for all tests, and mne's own view of it."""

from pathlib import Path

import numpy as np
import pytest

from aftersit.bench.library import forward_solution
from aftersit.head.atlas import half_keys
from aftersit.head.kept import Model
from aftersit.head.measures import RegionMeasures
from aftersit.head.model import Head, load_head
from aftersit.head.plausible import COLUMNS, PlausibleHeads, save_plausible
from aftersit.head.region_set import shipped_regions
from aftersit.head.regions import region_measures
from aftersit.head.settings import HeadSettings
from aftersit.plain_yaml import load_plain_yaml
from shared_head import shared_head_file

REPOSITORY = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def settings() -> HeadSettings:
    sections = load_plain_yaml(REPOSITORY / "config" / "settings" / "s1.yaml")
    return HeadSettings.checked(sections["head"], "s1.yaml")


@pytest.fixture(scope="session")
def head_file(tmp_path_factory, worker_id) -> Path:
    """`head.npz`, which test processes share."""
    return shared_head_file(tmp_path_factory, worker_id)


@pytest.fixture(scope="session")
def head(head_file) -> Head:
    return load_head(head_file)


@pytest.fixture(scope="session")
def plausible(head) -> PlausibleHeads:
    """Heads made up in no time: the template's gain, each electrode off by its own tenth."""
    rng = np.random.default_rng(27)
    names = np.char.add(np.char.add(head.region, "-"), head.hemisphere)
    halves = [head.gain[:, names == key] for key in half_keys()]
    apart = np.stack([part @ part.T for part in halves])
    in_step = np.stack([part.sum(axis=1) for part in halves])
    factors = 1 + 0.1 * rng.normal(size=(5, len(head.names)))
    return PlausibleHeads(
        names=head.names,
        template=apart,
        drawn=np.stack([apart * np.outer(f, f) for f in factors]),
        template_in_step=in_step,
        drawn_in_step=np.stack([in_step * f for f in factors]),
        heads=rng.uniform(size=(5, len(COLUMNS))),
    )


@pytest.fixture(scope="session")
def model(head_file, plausible, settings, tmp_path_factory) -> Model:
    """What the measures of sittings are made from."""
    folder = tmp_path_factory.mktemp("model")
    (folder / "head.npz").write_bytes(head_file.read_bytes())
    save_plausible(plausible, folder / "plausible.npz")
    return Model(folder / "head.npz", folder / "plausible.npz", settings, shipped_regions(), 71)


@pytest.fixture(scope="session")
def measures(head, settings, plausible) -> RegionMeasures:
    """Both kinds of all region measures, for all 19 electrodes."""
    return region_measures(head, head.names, settings, heads=plausible, seed=71)


@pytest.fixture(scope="session")
def mne_forward(head):
    """An mne forward solution whose sources and gain are those of the head."""
    return forward_solution(head)
