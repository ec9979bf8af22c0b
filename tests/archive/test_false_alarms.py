"""Nothing that is common in clinics makes the scan of a clean bag cry wolf."""

import re

import numpy as np
import pytest

from aftersit.archive.collect import _printed
from aftersit.archive.folding import tokens
from aftersit.archive.opened import Part, opened
from aftersit.archive.partner import read_partner
from aftersit.archive.scan import scan
from aftersit.archive.secrets import Secrets
from aftersit.archive.textsearch import TextSearch
from aftersit.archive.textviews import views

LABELS = (
    # Uploads and recordings, as people and recorders name them.
    *("k07-ses-01", "sub-K07_ses-01_task-sitting_eeg", "sub-K07_ses-02_task-rest_eeg"),
    *("ses-01-eeg", "K07_ses-01_eeg", "session-1", "sitting-3", "k07_s1_baseline", "rec", "eeg"),
    *("warm-attention-1", "eeg-2026-03-14", "loving-kindness-1", "recording1", "baseline", "raw"),
    *("measures", "derivatives-cleaned", "data-bids", "data", "export", "K07_desc-clean_eeg"),
    *("events", "channels", "participants", "readme", "record", "timeline-cleaned", "methods"),
    # Annotations.
    *("eyes closed", "Eyes open", "start of practice", "Recording starts", "baseline", "rest"),
    *("New Segment/", "Stimulus/S  1", "BAD boundary", "blink", "jaw", "muscle", "practice start"),
    *("feedback on", "sound on", "reward", "threshold changed", "bad electrode", "Fp1 off"),
    *("impedance check", "Cz bad", "electrode Fp1", "movement", "cough", "time out", "block 2"),
    # Fields of headers.
    *("EEG Fp1-Ref", "EEG Fp1-A1A2", "POL Fp1", "Fp1-AVG", "uV", "AgAgCl electrode", "EDF+C"),
    *("HP:0.1Hz LP:75Hz N:50Hz", "Number of channels: 32", "Sampling Rate [Hz]: 500"),
    *("#     Name      Phys. Chn.    Resolution / Unit   Low Cutoff [s]   Notch [Hz]", "Disabled"),
    *("S o f t w a r e  F i l t e r s", "Impedance [kOhm] at 10:22:33", "Ch1=Fp1,,0.5,µV"),
    *("Brain Vision Data Exchange Header File Version 1.0", "DataFormat=BINARY", "Amplifier"),
    *("Mk1=New Segment,,1,1,0,20260314170509000000", "DataOrientation=MULTIPLEXED", "Feedback"),
)
NOTES = (
    "Alpha at the right insula rose above threshold in the second block",
    "Baseline 2 minutes, practice 5 minutes, break, practice 5 minutes, eyes closed",
    "The sound rewarded loving-kindness practice; electrodes Fp1 and O2 bad, muscle at T7",
    "Threshold db over baseline 1, smoothing 0.5 s, version 2, direction above",
    "K07 session 3: good recording; cleaned data look fine",
    "warm-attention v2, s1; ses-01 task sitting eeg; sub ses 01",
    "Reward share 0.7 in 2 of 5 blocks; 2 people in the room; 5 sittings of 4 people",
    "Measures of data were removed by the practitioner in charge",
    "Heard a sound, open eyes, closed again; electrode Cz good; region insula-right",
)


@pytest.fixture(scope="module")
def readings(bag):
    """Every reading of every text of a bag, as the scan makes them."""
    found = [str(path.relative_to(bag)) for path in bag.rglob("*")]
    for path in (p for p in bag.rglob("*") if p.is_file() and p.suffix != ".eeg"):
        for part in opened(Part(path.name, path.read_bytes())):
            found += views(part.data)[1]
    return found


def alarms(made, bag, readings, add):
    """With the partner's own texts and the protocol's name known, as an export knows them."""
    ids = frozenset(p.name.removeprefix("sub-") for p in (bag / "data" / "bids").glob("sub-*"))
    printed = frozenset(
        word for text in _printed(read_partner(made, "north")) for word in tokens(text)
    )
    secrets = Secrets(ids=ids, printed=printed, allowed=printed | {"warm", "attention"})
    add(secrets)
    search = TextSearch(secrets)
    return {kind for text in readings for kind in search.kinds(text)}


def test_common_labels_raise_no_alarm(made, bag, readings):
    def add(secrets):
        for text in LABELS:
            secrets.add_label(text, text)

    assert alarms(made, bag, readings, add) == set()


def test_notes_about_the_trade_raise_no_alarm(made, bag, readings):
    def add(secrets):
        for text in NOTES:
            secrets.add_note(text, text)

    assert alarms(made, bag, readings, add) == set()


def test_no_word_that_every_bag_has_raises_an_alarm(made, bag, readings):
    """Each word of the bag, taken for the name of a client and for a word of a note."""
    words = {word for text in readings for word in tokens(text) if re.fullmatch("[a-z]+", word)}
    assert len(words) > 900

    def add(secrets):
        for word in sorted(words - {"warm", "attention"}):  # the protocol's own name
            secrets.add_name(word, word)
            secrets.add_note(word, word)

    assert alarms(made, bag, readings, add) == set()


def test_an_upload_called_after_its_protocol_raises_no_alarm_and_a_person_does(tmp_path):
    (tmp_path / "quendel-gaze-v3.json").write_text('{"name": "quendel-gaze"}')
    secrets = Secrets(allowed=frozenset({"quendel", "gaze"}))
    for text in ("tue-quendel-gaze-2", "quendel gaze begins"):
        secrets.add_label(text, "a label")
    assert scan(tmp_path, secrets) == []
    secrets.add_name("Agathe Quendel", "a name")
    assert scan(tmp_path, secrets)


def test_a_size_of_a_file_is_no_number_of_a_person(bag, tmp_path):
    """Seven digits are a client's code in one clinic and a length in bytes in another."""
    sizes = {str(p.stat().st_size) for p in bag.rglob("*") if p.is_file()}
    total = (bag / "bag-info.txt").read_text().split("Payload-Oxum: ")[1].split(".")[0]
    made = Secrets(printed=frozenset({"copy"}))
    for size in {one for one in {*sizes, total} if len(one) >= 6}:
        made.add_code(size, "a client's code")
        made.add_name(size, "a number")
    for name in ("bag-info.txt", "data/ro-crate-metadata.json"):
        target = tmp_path / name
        target.parent.mkdir(exist_ok=True)
        target.write_bytes((bag / name).read_bytes())
    assert scan(tmp_path, made) == []
    (tmp_path / "other.txt").write_text(f"of {total}\n")
    assert scan(tmp_path, made)


def test_samples_that_begin_like_a_packed_file_are_samples(tmp_path):
    """A sample's low bytes are 1f 8b once in 65,536 recordings, and BZh once in 2^24."""
    rng = np.random.default_rng(8)
    for number, start in enumerate((b"\x1f\x8b\x12\x40", b"\x1f\x8b\x08\xc1", b"BZh\x40")):
        (tmp_path / f"{number}_eeg.eeg").write_bytes(start + rng.normal(size=900).tobytes())
    assert scan(tmp_path, Secrets()) == []
