"""Places where identity can hide, and an invented secret for each."""

import datetime as dt
import json
from pathlib import Path

import edfio
import mne

import small_uploads
from aftersit.clinic import Clinic
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
    "edf reserved field": "Quendelgasse nine",
    "edf unit": "Gustlohm",
    "edf reserved field of a signal": "lent by Veronika Holzapfel",
}
BDF = {
    "bdf patient code": "PTB-5520418",
    "bdf patient name": "Ödön Hüttenrauch",
    "bdf technician": "Beatrix Mangold",
    "bdf equipment": "BX-7741026",
    "bdf admin code": "ADB-3390771",
    "bdf recording more": "6628194",
    "bdf transducer": "Hüttenrauch cap",
    "bdf annotation": "Nachbar Hupfauf hammered",
    "bdf file name": "huettenrauch",
}
BRAINVISION = {
    "brainvision comment": "Patient Siegbert Wurzinger",
    "brainvision latin-1 comment": "Begleitet von Gerda Schürzenjäger",
    "brainvision amplifier": "Serial AX-6617203",
    "brainvision channel": "Wurzi",
    "brainvision marker": "Wurzinger sneezed twice",
    "brainvision marker date": "20260316170509000000",
    "brainvision file name": "wurzinger_siegbert",
    "brainvision user infos": "Uncle of Adalbert Zwicknagl",
    "brainvision marker user infos": "Zimmer von Gundula Pospischil",
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
    "code of seven digits": "9051736",
    "upload name": "tue-quasti-k07",
    "clinic name": "Zimtbaum",
    "clinic contact": "Orsolya Kekstein",
    "clinic phone": "5550199",
    "clinic mail": "desk@zimtbaum.example.org",
    "roster name": "Leopoldine Rauscher",
    "other partner's id": "",
    "roster phone": "+43 680 55 66 778",
    "roster birth date": "3 July 1948",
    "roster insurance number": "2204 030748",
    "reviewer": "REV88123",
    "set-aside notes": "Mizzi Tratschke phoned thrice",
    "set-aside file name": "schachtelhuber-brief",
    "inbox notes": "Kreszenz Obermoser comes on Monday",
    "inbox upload name": "thu-obermoser",
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
    path = folder / f"{EDF['edf file name']}.edf"
    made.write(path)
    _plant_edf_fields(path, len(signals) + 1)


def _plant_edf_fields(path: Path, count: int) -> None:
    """Fields that the writing library leaves empty, at their places (EDF specification)."""
    data = bytearray(path.read_bytes())
    last = count - 2  # the labelled one; after it come the annotations
    for at, width, text in (
        (192 + len("EDF+C "), 30, EDF["edf reserved field"]),
        (256 + 96 * count + 8 * last, 8, EDF["edf unit"]),
        (256 + 224 * count + 32 * last, 32, EDF["edf reserved field of a signal"]),
    ):
        data[at : at + width] = text.ljust(width).encode()
    path.write_bytes(data)


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
            additional=[BDF["bdf recording more"]],
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
            text += f"{BRAINVISION['brainvision latin-1 comment']}\n"
            text += f"\n[User Infos]\nProp1=string,{BRAINVISION['brainvision user infos']}\n"
        else:
            told = BRAINVISION["brainvision marker user infos"]
            text += f"\n[Marker User Infos]\nProp1=1,string,{told}\n"
        (folder / f"{name}{path.suffix}").write_bytes(text.encode("latin-1"))
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


def plant_folders(clinic: Clinic) -> None:
    """What waits, was set aside, and was reviewed."""
    aside, waits = clinic.set_aside / "broken", clinic.inbox / CLINIC["inbox upload name"]
    for folder, key in ((aside, "set-aside notes"), (waits, "inbox notes")):
        folder.mkdir(parents=True)
        (folder / "sitting.yaml").write_text(f"notes: {CLINIC[key]}\n")
    (aside / f"{CLINIC['set-aside file name']}.txt").write_text("-")
    reviews = clinic.state / "reviews"
    reviews.mkdir(parents=True, exist_ok=True)
    (reviews / "K07-01.json").write_text(json.dumps({"reviewer": CLINIC["reviewer"]}))
