"""The crate before an independent validator, without the network."""

import json
from pathlib import Path

import pytest

from aftersit.change.chain import chains
from aftersit.change.crate import write_crate
from crate_validator import contexts, problems, take_network_away

RECORD = "derivatives/replay-s1-calm-sea-v1/sub-K07/ses-02/record.json"
PROFILE = "workflow-run-crate"


@pytest.fixture
def no_network(monkeypatch):
    return take_network_away(monkeypatch)


@pytest.fixture
def crate(clinic, tmp_path) -> Path:
    (chain,) = chains(clinic, clinic.root / RECORD)
    return write_crate(chain, tmp_path / "crate").parent


def change(folder: Path, key: str, **properties) -> None:
    path = folder / "ro-crate-metadata.json"
    told = json.loads(path.read_text())
    entity = next(e for e in told["@graph"] if e["@id"] == key)
    for name, value in properties.items():
        entity.pop(name) if value is None else entity.update({name: value})
    path.write_text(json.dumps(told))


@pytest.mark.filterwarnings("ignore")  # the validator's own packages warn of their future
def test_the_validator_requires_nothing_more(crate, no_network):
    assert problems(crate, PROFILE) == []
    assert set(no_network) <= set(contexts())


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("key", "properties"),
    [
        ("#run", {"instrument": None}),
        ("#parameter-protocol", {"additionalType": None}),
        ("./", {"mainEntity": None}),
        ("./", {"license": None}),
    ],
)
def test_the_validator_sees_what_is_missing(crate, no_network, key, properties):
    """That it can fail: a required property is taken away."""
    change(crate, key, **properties)
    assert problems(crate, PROFILE) != []
