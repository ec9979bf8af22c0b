"""Places where identity can hide, and an invented secret for each."""

import base64
import bz2
import datetime as dt
import gzip
import io
import json
import lzma
import tarfile
import zipfile
import zlib
from pathlib import Path

import edfio
import mne
import numpy as np

import small_uploads
from aftersit.electrodes import STANDARD_19

EDF = {
    "edf patient code": "PTN-4471903",
    "edf patient name": "Ludmilla Quastenberg",
    "edf patient more": "Wardroom77",
    "edf birth date": "1951-05-02",
    "edf admin code": "ADM-8830127",
    "edf technician": "Xaver Pfifferling",
    "edf equipment": "SN-0092817",
    "edf recording more": "Ostflügel",
    "edf start date": "2026-03-14",
    "edf start time": "17:05:09",
    "edf label": "Quasti left",
    "edf transducer": "Cap of Ludmilla",
    "edf prefilter": "HP:Pfiffig",
    "edf annotation": "Zwetschge called from the door",
    "edf file name": "quastenberg-l-1951",
}
BDF = {
    "bdf patient code": "PTB-5520418",
    "bdf patient name": "Ödön Hüttenrauch",
    "bdf technician": "Beatrix Mangold",
    "bdf equipment": "BX-7741026",
    "bdf admin code": "ADB-3390771",
    "bdf transducer": "Hüttenrauch cap",
    "bdf annotation": "Nachbar Hupfauf hammered",
    "bdf file name": "huettenrauch",
}
BRAINVISION = {
    "brainvision comment": "Patient Siegbert Wurzinger",
    "brainvision amplifier": "Serial AX-6617203",
    "brainvision channel": "Wurzi",
    "brainvision marker": "Wurzinger sneezed twice",
    "brainvision marker date": "20260316170509000000",
    "brainvision file name": "wurzinger_siegbert",
}
FIF = {
    "fif his id": "HID-2280915",
    "fif last name": "Czerny-Ørsted",
    "fif first name": "Philomena",
    "fif middle name": "Aurelie",
    "fif birthday": "1966-03-09",
    "fif experimenter": "Kasimir Dotterbart",
    "fif description": "Room of Dotterbart, third floor",
    "fif project": "Schlafwagen",
    "fif device serial": "DV-5503318",
    "fif device site": "Knöterichgasse",
    "fif annotation": "Philomena laughed",
    "fif file name": "czerny",
}
SHEET = {
    "sheet notes": "Her brother Fridolin drowned in Attersee last autumn",
    "sheet message": "Greet Fridolin warmly from us",
    "sheet instruction": "Picture Oma Ottilie smiling",
    "sheet block instruction": "Breathe towards Ottilie now",
    "sheet block remark": "Cried about Fridolin briefly",
    "sheet threshold name": "Gustls dial",
    "sheet threshold unit": "gustlunits",
    "sheet rating name": "ottilie-near",
    "sheet date": "2026-03-15",
}
CLINIC = {
    "client code": "K07",
    "code inside a word": "k07b",
    "longer code": "QX9417",
    "upload name": "tue-quasti-k07",
    "clinic name": "Zimtbaum",
    "clinic contact": "Orsolya Kekstein",
    "clinic phone": "5550199",
    "clinic mail": "desk@zimtbaum.example.org",
    "roster name": "Leopoldine Rauscher",
    "other partner's id": "",
    "set-aside notes": "Mizzi Tratschke phoned thrice",
    "protocol title": "Fridolins Lieblingsübung",
}
SECRETS = EDF | BDF | BRAINVISION | FIF | SHEET | CLINIC


def write_edf(folder: Path) -> None:
    signals = [
        edfio.EdfSignal(
            row,
            small_uploads.RATE,
            label=label,
            physical_dimension="uV",
            physical_range=(-3276.7, 3276.7),
            transducer_type=EDF["edf transducer"],
            prefiltering=EDF["edf prefilter"],
        )
        for label, row in zip(
            (*STANDARD_19, EDF["edf label"]), small_uploads.eeg_uv(20), strict=True
        )
    ]
    made = edfio.Edf(
        signals,
        patient=edfio.Patient(
            code=EDF["edf patient code"],
            sex="F",
            birthdate=dt.date.fromisoformat(EDF["edf birth date"]),
            name=EDF["edf patient name"].replace(" ", "_"),
            additional=[EDF["edf patient more"]],
        ),
        recording=edfio.Recording(
            startdate=small_uploads.START.date(),
            hospital_administration_code=EDF["edf admin code"],
            investigator_technician_code=EDF["edf technician"].replace(" ", "_"),
            equipment_code=EDF["edf equipment"],
            additional=["Ostfluegel"],
        ),
        starttime=small_uploads.START.time(),
        annotations=[edfio.EdfAnnotation(7.5, None, EDF["edf annotation"])],
    )
    made.write(folder / f"{EDF['edf file name']}.edf")


def write_bdf(folder: Path) -> None:
    signals = [
        edfio.BdfSignal(
            row,
            small_uploads.RATE,
            label=label,
            physical_dimension="uV",
            physical_range=(-3276.7, 3276.7),
            transducer_type="Huettenrauch cap",
        )
        for label, row in zip(STANDARD_19, small_uploads.eeg_uv() * 0.7, strict=True)
    ]
    made = edfio.Bdf(
        signals,
        patient=edfio.Patient(code=BDF["bdf patient code"], name="Oedoen_Huettenrauch"),
        recording=edfio.Recording(
            startdate=dt.date(2026, 3, 15),
            hospital_administration_code=BDF["bdf admin code"],
            investigator_technician_code=BDF["bdf technician"].replace(" ", "_"),
            equipment_code=BDF["bdf equipment"],
        ),
        starttime=dt.time(9, 41, 7),
        annotations=[edfio.EdfAnnotation(9.5, 2.25, BDF["bdf annotation"])],
    )
    made.write(folder / f"{BDF['bdf file name']}.bdf")


def write_brainvision(folder: Path) -> None:
    labels = (*STANDARD_19, BRAINVISION["brainvision channel"])
    data = small_uploads.eeg_uv(20) * 0.81
    marker = (11.5, 1.5, BRAINVISION["brainvision marker"])
    small_uploads.write_brainvision(folder, labels, data, [marker])
    name = BRAINVISION["brainvision file name"]
    for path in sorted(folder.glob("rec.*")):
        if path.suffix == ".eeg":
            path.rename(folder / f"{name}.eeg")
            continue
        text = path.read_text().replace("rec.", f"{name}.")
        if path.suffix == ".vhdr":
            text += f"\n{BRAINVISION['brainvision comment']}\n"
            text += f"{BRAINVISION['brainvision amplifier']}\n"
        (folder / f"{name}{path.suffix}").write_text(text)
        path.unlink()


def write_fif(folder: Path) -> None:
    info = mne.create_info(list(STANDARD_19), small_uploads.RATE, "eeg", verbose="ERROR")
    info["subject_info"] = {
        "his_id": FIF["fif his id"],
        "last_name": FIF["fif last name"],
        "first_name": FIF["fif first name"],
        "middle_name": FIF["fif middle name"],
        "birthday": dt.date.fromisoformat(FIF["fif birthday"]),
    }
    info["experimenter"] = FIF["fif experimenter"]
    info["description"] = FIF["fif description"]
    with info._unlock():
        info["proj_name"] = FIF["fif project"]
    info["device_info"] = {
        "type": "EEG",
        "serial": FIF["fif device serial"],
        "site": FIF["fif device site"],
    }
    raw = mne.io.RawArray(small_uploads.eeg_uv() * 0.6e-6, info, verbose="ERROR")
    raw.set_meas_date(dt.datetime(2026, 3, 17, 12, 22, 33, tzinfo=dt.UTC))
    raw.set_annotations(mne.Annotations([5.5], [1.5], [FIF["fif annotation"]]))
    raw.save(folder / f"{FIF['fif file name']}_raw.fif", fmt="double", verbose="ERROR")


def sheet() -> dict:
    """Changes of a sheet with a secret in every field for words."""
    threshold = {
        "condition": SHEET["sheet threshold name"],
        "value": 3.25,
        "unit": SHEET["sheet threshold unit"],
    }
    practice = {
        "kind": "practice",
        "start": "0:20",
        "end": "1:04",
        "instruction": SHEET["sheet block instruction"],
        "remark": SHEET["sheet block remark"],
        "live_thresholds": [threshold],
    }
    return {
        "notes": SHEET["sheet notes"],
        "message": SHEET["sheet message"],
        "instruction": SHEET["sheet instruction"],
        "ratings": {"before": {SHEET["sheet rating name"]: 4}},
        "blocks": [{"kind": "baseline", "start": "0:02", "end": "0:20"}, practice],
    }


def gz(data: bytes) -> bytes:
    return gzip.compress(data, mtime=0)


def zipped(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inner.txt", data)
    return out.getvalue()


def npz(data: bytes) -> bytes:
    out = io.BytesIO()
    np.savez_compressed(out, who=np.array([data.decode()]))
    return out.getvalue()


def tarred(data: bytes) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as archive:
        member = tarfile.TarInfo("inner.txt")
        member.size = len(data)
        archive.addfile(member, io.BytesIO(data))
    return out.getvalue()


def pdf(data: bytes) -> bytes:
    return b"%PDF-1.7\n1 0 obj <<>> stream\n" + zlib.compress(data) + b"\nendstream endobj"


def pdf_metadata(data: bytes) -> bytes:
    text = (b"\xfe\xff" + data.decode().encode("utf-16-be")).hex().encode()
    return b"%PDF-1.7\n1 0 obj << /Author <" + text + b"> >> endobj"


def png(data: bytes, kind: bytes = b"tEXt", body: bytes | None = None) -> bytes:
    body = b"Author\0" + data if body is None else body
    size = len(body).to_bytes(4)
    crc = zlib.crc32(kind + body).to_bytes(4)
    return b"\x89PNG\r\n\x1a\n" + size + kind + body + crc


def png_packed(data: bytes) -> bytes:
    return png(data, b"zTXt", b"Author\0\0" + zlib.compress(data))


def png_international(data: bytes) -> bytes:
    return png(data, b"iTXt", b"Author\0\1\0\0\0" + zlib.compress(data))


def in_samples(data: bytes) -> bytes:
    noise = np.random.default_rng(3).normal(0, 9, 5000).astype("<f4").tobytes()
    return noise[:7777] + data + noise[7777:]


def wide_in_samples(data: bytes) -> bytes:
    return in_samples(data.decode().encode("utf-16-le"))


WRAPPINGS = {
    "plain": lambda data: data,
    "gz": gz,
    "bz2": bz2.compress,
    "xz": lzma.compress,
    "zip": zipped,
    "npz": npz,
    "tar.gz": tarred,
    "gz in zip": lambda data: zipped(gz(data)),
    "PDF stream": pdf,
    "PDF metadata": pdf_metadata,
    "PNG tEXt": png,
    "PNG zTXt": png_packed,
    "PNG iTXt": png_international,
    "samples": in_samples,
    "UTF-16 in samples": wide_in_samples,
    "UTF-16": lambda data: data.decode().encode("utf-16"),
    "latin-1": lambda data: data.decode().encode("latin-1"),
    "JSON escapes": lambda data: json.dumps({"by": data.decode()}).encode(),
    "base 64": lambda data: b'"' + base64.b64encode(b"by " + data) + b'"',
    "upper case": lambda data: data.decode().upper().encode(),
    "HTML": lambda data: data.decode().encode("ascii", "xmlcharrefreplace"),
}
