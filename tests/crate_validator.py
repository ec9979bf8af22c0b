"""An independent validator of crates (roc-validator), without the network.

Its shapes for RO-Crate 1.1 and the profiles of Workflow Run Crate 0.5 come with the package.
The two contexts that a crate names are served from here: RO-Crate's own as the package rocrate
ships it (version 1.3, whose terms for workflows are put under the names of 1.1), and the
terms of https://w3id.org/ro/terms/workflow-run that the profile lists.
"""

import json
from pathlib import Path

import requests
import rocrate
from rocrate_validator import services
from rocrate_validator.models import Severity

_RUN_TERMS = ("ParameterConnection", "connection", "sourceParameter", "targetParameter")
_RUN_TERMS += ("sha1", "environment", "containerImage", "resourceUsage")


def contexts() -> dict[str, dict]:
    shipped = Path(rocrate.__file__).parent / "data" / "ro-crate.jsonld"
    terms = json.loads(shipped.read_text())["@context"]
    old = {
        name: value.replace("bioschemas.org/terms/", "bioschemas.org/")
        for name, value in terms.items()
        if isinstance(value, str)
    }
    run = {name: f"https://w3id.org/ro/terms/workflow-run#{name}" for name in _RUN_TERMS}
    return {
        "https://w3id.org/ro/crate/1.1/context": {"@context": terms | old},
        "https://w3id.org/ro/terms/workflow-run/context": {"@context": run},
    }


def take_network_away(monkeypatch) -> list[str]:
    """Answer every request from here or refuse it; returns what was asked for, as it grows."""
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


def problems(folder: Path, profile: str) -> list[str]:
    """What the validator requires and does not find; its profiles: `rocrate-validator profiles`."""
    result = services.validate(
        services.ValidationSettings(
            rocrate_uri=str(folder),
            profile_identifier=profile,
            requirement_severity=Severity.REQUIRED,
            no_cache=True,
        )
    )
    return [f"{i.check.identifier}: {i.message}" for i in result.get_issues(Severity.REQUIRED)]
