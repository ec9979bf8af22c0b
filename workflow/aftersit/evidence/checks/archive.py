"""Archive: checksums, what leaves the clinic, and what must never leave it."""

import datetime as dt
import hashlib
import re

import edfio
import yaml

from aftersit.bids.write import write_sitting
from aftersit.evidence.check import check
from aftersit.evidence.checks.bids import SITTING
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.invented import CLINIC_SETTINGS, SHEET, edf_bytes
from aftersit.evidence.result import Result, same
from aftersit.files import sha256


@check("archive", "sha-256", "Checksums of the register are those of the standard's examples")
def register_checksums(given: Given, fact: Fact) -> Result:
    folder, found = given.new_folder(), {}
    for text in fact["digests"]:
        path = folder / "file"
        path.write_bytes(text.encode())
        found[text] = sha256([path])
    return same(found, fact["digests"], number=True)


def identified(given: Given) -> bytes:
    """All bytes and names of raw BIDS made from a file and sheet full of identifiers."""
    root = given.new_folder()
    upload = root / "upload"
    upload.mkdir()
    patient = edfio.Patient(
        code="MCH-0234567", sex="F", birthdate=dt.date(1951, 5, 2), name="Haagse_Harry"
    )
    data = edf_bytes(patient=patient, annotations=[(21.0, 4.0, "cough by Harry")])
    (upload / "Haagse_Harry.edf").write_bytes(data)
    private = {"notes": "private-notes", "message": "private-message", "age": 93}
    (upload / "sitting.yaml").write_text(yaml.safe_dump({**SHEET, **private}))
    write_sitting(upload, SITTING, root / "bids", CLINIC_SETTINGS, given.settings.intake)
    files = (p for p in sorted((root / "bids").rglob("*")) if p.is_file())
    return b"\n".join(str(p.relative_to(root)).encode() + b"\n" + p.read_bytes() for p in files)


@check("archive", "edf-identity", "Nothing of an EDF patient field reaches raw BIDS")
def edf_identity(given: Given, fact: Fact) -> Result:
    everything = given.once("identified", lambda: identified(given))
    return same([text for text in fact["planted"] if text.encode() in everything], [])


@check(
    "archive", "safe-harbour", "Names, birth dates, record numbers, ages over 89 and free text stay"
)
def safe_harbour(given: Given, fact: Fact) -> Result:
    everything = given.once("identified", lambda: identified(given))
    forms = [enc for text in fact["planted"] for enc in (text.encode(), text.encode("utf-16-le"))]
    return same([form.decode("utf-8", "replace") for form in forms if form in everything], [])


@check("archive", "same-bytes", "Two runs write the same bytes")
def same_bytes(given: Given, fact: Fact) -> Result:
    one, other = (hashlib.sha256(identified(given)).hexdigest()[:12] for _ in range(2))
    return same(one, other)


@check("archive", "no-real-address", "The demo clinic's addresses can't be anybody's")
def no_real_address(given: Given, fact: Fact) -> Result:
    from demo_clinic import papers

    hosts = re.findall(r"@([\w.-]+)", papers.as_yaml(papers.CLINIC))
    mine = [h for h in hosts if not h.endswith(tuple(fact["reserved"]))]
    return same([len(hosts) > 0, mine], [True, []])
