"""The crate before an independent validator (roc-validator), without the network.

Its shapes for RO-Crate 1.1 and Workflow Run Crate 0.5 come with the package. The two
contexts that a crate names are served from here: RO-Crate's own as the package rocrate
ships it (version 1.3, whose terms for workflows are put under the names of 1.1), and the
terms of https://w3id.org/ro/terms/workflow-run that the profile lists.
"""

import json
from pathlib import Path

import pytest
import requests
import rocrate
from rocrate_validator import services
from rocrate_validator.models import Severity

from aftersit.change.chain import chains
from aftersit.change.crate import write_crate

RECORD = "derivatives/replay-s1-calm-sea-v1/sub-K07/ses-02/record.json"
RUN_TERMS = ("ParameterConnection", "connection", "sourceParameter", "targetParameter")
RUN_TERMS += ("sha1", "environment", "containerImage", "resourceUsage")


def contexts() -> dict[str, dict]:
    shipped = Path(rocrate.__file__).parent / "data" / "ro-crate.jsonld"
    terms = json.loads(shipped.read_text())["@context"]
    old = {
        name: value.replace("bioschemas.org/terms/", "bioschemas.org/")
        for name, value in terms.items()
        if isinstance(value, str)
    }
    run = {name: f"https://w3id.org/ro/terms/workflow-run#{name}" for name in RUN_TERMS}
    return {
        "https://w3id.org/ro/crate/1.1/context": {"@context": terms | old},
        "https://w3id.org/ro/terms/workflow-run/context": {"@context": run},
    }


@pytest.fixture
def no_network(monkeypatch):
    """Every request is answered from here or refused; returns what was asked for."""
    known, asked = contexts(), []

    def answer(_session, _method, url, **_):
        asked.append(url)
        if url not in known:
            raise requests.ConnectionError(f"no network in tests: {url}")
        found = requests.Response()
        found.status_code = 200
        found.url = url
        found.headers["Content-Type"] = "application/ld+json"
        found._content = json.dumps(known[url]).encode()
        return found

    monkeypatch.setattr(requests.Session, "request", answer)
    return asked


@pytest.fixture
def crate(clinic, tmp_path) -> Path:
    (chain,) = chains(clinic, clinic.root / RECORD)
    return write_crate(chain, tmp_path / "crate").parent


def problems(folder: Path) -> list[str]:
    """What the validator requires and does not find."""
    result = services.validate(
        services.ValidationSettings(
            rocrate_uri=str(folder),
            profile_identifier="workflow-run-crate",
            requirement_severity=Severity.REQUIRED,
            no_cache=True,
        )
    )
    return [f"{i.check.identifier}: {i.message}" for i in result.get_issues(Severity.REQUIRED)]


def change(folder: Path, key: str, **properties) -> None:
    path = folder / "ro-crate-metadata.json"
    told = json.loads(path.read_text())
    entity = next(e for e in told["@graph"] if e["@id"] == key)
    for name, value in properties.items():
        entity.pop(name) if value is None else entity.update({name: value})
    path.write_text(json.dumps(told))


@pytest.mark.filterwarnings("ignore")  # the validator's own packages warn of their future
def test_the_validator_requires_nothing_more(crate, no_network):
    assert problems(crate) == []
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
    assert problems(crate) != []
