"""Recording formats: header rules, physical values, markers and names, clause by clause."""

import numpy as np

from aftersit.electrodes import STANDARD_19, read_label, read_labels, ten_ten
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.invented import edf_bytes, eeg_uv, patched
from aftersit.evidence.result import Result, alike, near, same
from aftersit.intake.edf_header import EdfHeader, read_edf_header
from aftersit.intake.prefilter import parse_prefilter
from aftersit.intake.problems import UploadError
from aftersit.intake.recording import Recording, read_recording
from aftersit.intake.upload_files import find_files

N = len(STANDARD_19)


def header_of(given: Given, data: bytes) -> EdfHeader:
    """Header of a file with these bytes."""
    path = given.new_folder() / "a.edf"
    path.write_bytes(data)
    return read_edf_header(path)


def refused(given: Given, data: bytes) -> str:
    """Code of the problem that a header has."""
    try:
        header_of(given, data)
    except UploadError as error:
        return error.problems[0].code
    return "taken"


def recording_of(given: Given, data: bytes, name: str = "rec.edf") -> Recording:
    """What intake makes of a file."""
    folder = given.new_folder()
    (folder / name).write_bytes(data)
    (folder / "sitting.yaml").write_text("client: K07\n")
    return read_recording(find_files(folder), given.settings.intake, "Europe/Vienna")


def columns(data: bytes, fields: dict[int, str]) -> bytes:
    """Write texts of 8 signs for the first 19 signals; keys are offsets for one signal."""
    count = int(data[252:256])
    for start, text in fields.items():
        for which in range(N):
            data = patched(data, 256 + start * count + which * 8, text.encode().ljust(8))
    return data


@check("formats", "edf-layout", "Header length, record size and rate of an EDF file")
def layout(given: Given, fact: Fact) -> Result:
    data = edf_bytes()
    found = header_of(given, data)
    signals, body = int(data[252:256]), len(data) - int(data[184:192])
    expected = [fact["header_bytes_a_signal"] * (1 + signals), body / int(data[236:244]), 128]
    return near([found.header_bytes, found.record_bytes, found.rate_hz(found.signals[3])], expected)


@check("formats", "edf-years", "Two-digit years lie between 1985 and 2084")
def years(given: Given, fact: Fact) -> Result:
    data, found = edf_bytes(), []
    for date in fact["years"]:
        found.append(header_of(given, patched(data, 168, date.encode())).start.year)
    return near(found, list(fact["years"].values()))


@check("formats", "edf-year-yy", "A date written yy is taken from the recording field")
def year_yy(given: Given, fact: Fact) -> Result:
    field = f"Startdate {fact['startdate']} X X X".encode().ljust(80)
    data = patched(patched(edf_bytes(), 168, b"14.03.yy"), 88, field)
    return same(header_of(given, data).start.strftime("%d-%b-%Y").upper(), fact["startdate"])


@check("formats", "edf-physical", "Physical values are linear in digital ones, negative gain too")
def physical(given: Given, fact: Fact) -> Result:
    ours, theirs = [], []
    for low, high, dlow, dhigh in fact["limits"]:
        texts = [f"{v:g}" for v in (low, high, dlow, dhigh)]
        data = columns(edf_bytes(start=None), dict(zip((104, 112, 120, 128), texts, strict=True)))
        ours.append(recording_of(given, data).signal[:N].ravel() * 1e6)
        digital = _digital(data)
        theirs.append((low + (digital - dlow) * (high - low) / (dhigh - dlow)).ravel())
    return alike(np.concatenate(ours), np.concatenate(theirs), rel=1e-7)


def _digital(data: bytes) -> np.ndarray:
    """Stored integers of the 19, read from the bytes alone."""
    count = int(data[252:256])
    samples = [int(data[256 + 216 * count + i * 8 :][:8]) for i in range(count)]
    records = np.frombuffer(data[256 * (1 + count) :], "<i2").reshape(-1, sum(samples))
    digital = records[:, : N * samples[0]].reshape(len(records), N, samples[0])
    return digital.transpose(1, 0, 2).reshape(N, -1).astype(float)


@check("formats", "edf-gaps", "EDF+D, open and cut files are refused, each with its own code")
def broken(given: Given, fact: Fact) -> Result:
    data = edf_bytes()
    cases = {
        "reserved field EDF+D": patched(data, 192, b"EDF+D"),
        "-1 records": patched(data, 236, b"-1      "),
        "a record less": data[:-1000],
        "a decimal comma": patched(data, 244, b"1,5     "),
    }
    return same({name: refused(given, case) for name, case in cases.items()}, fact["codes"])


@check("formats", "edf-digital-order", "A digital maximum below the minimum is refused")
def digital_order(given: Given, fact: Fact) -> Result:
    data = columns(edf_bytes(), {120: "2000", 128: "-2000"})
    return same(refused(given, data), "broken-header")


@check("formats", "edf-prefilter", "Filters of the prefilter field are read")
def prefilter(given: Given, fact: Fact) -> Result:
    found = parse_prefilter(fact["field"])
    return near([found.highpass_hz, found.lowpass_hz, *found.notches_hz], fact["hz"], unit="Hz")


@check("formats", "time-constant", "A time constant is a first-order filter at 1 / (2 pi tau)")
def time_constant(given: Given, fact: Fact) -> Result:
    found = [parse_prefilter(text).highpass_hz for text in fact["hz"]]
    return near(found, list(fact["hz"].values()), rel=0.005, unit="Hz")


@check("formats", "edf-markers", "Two texts at one time stay two markers, and the duration is kept")
def markers(given: Given, fact: Fact) -> Result:
    marks = [tuple(mark) for mark in fact["marks"]]
    found = recording_of(given, edf_bytes(annotations=marks)).annotations
    return same(
        [[a.onset_s, a.duration_s or None, a.text] for a in found], fact["marks"], number=True
    )


@check(
    "formats", "edf-start-fraction", "Markers count from the first sample, not the header's second"
)
def start_fraction(given: Given, fact: Fact) -> Result:
    """The first record's time-keeping entry says how late the first sample is."""
    data = edf_bytes(annotations=[(30.0, 2.0, "tone on"), (31.0, None, "x" * 60)])
    later = fact["fraction_s"]
    for second in range(63, -1, -1):
        data = _moved(data, f"+{second}\x14\x14\0", f"+{second + later:g}\x14\x14")
    data = _moved(data, "+30\x15", f"+{30 + later:g}\x15", shrink=True)
    tone = next(a for a in recording_of(given, data).annotations if a.text == "tone on")
    return near(tone.onset_s, 30.0, abs=1e-6, unit="s")


def _moved(data: bytes, old: str, new: str, shrink: bool = False) -> bytes:
    """Another onset in an annotation signal; what becomes longer takes from the padding."""
    at = data.index(old.encode())
    if not shrink:
        room = len(new) - len(old) + 1
        end = data.index(b"\0" * (room + 1), at)
        rest = data[at + len(old) - 1 : end]
        return data[:at] + new.encode() + rest + data[end + room :]
    room = len(new) - len(old)
    end = data.index(b"\0" * (room + 1), at)
    return data[:at] + new.encode() + data[at + len(old) : end] + data[end + room :]


@check(
    "formats", "bdf", "A BDF sample has three bytes, and values are the other library's", fact="bdf"
)
def bdf(given: Given, fact: Fact) -> Result:
    data = edf_bytes(bdf=True)
    found = recording_of(given, data, "rec.bdf").signal[:N] * 1e6
    folder = given.new_folder()
    (folder / "a.bdf").write_bytes(data)
    header = read_edf_header(folder / "a.bdf")
    step = 2 * 3276.7 / (256 ** fact["bytes_a_sample"] - 1)
    off = np.abs(found - eeg_uv()).max() / step
    return near([header.sample_bytes, min(off, 0.5)], [fact["bytes_a_sample"], 0.25], abs=0.26)


@check("formats", "old-names", "T3, T4, T5, T6 and T7, T8, P7, P8 are the same places")
def old_names(given: Given, fact: Fact) -> Result:
    import mne

    place = mne.channels.make_standard_montage("colin27_1020").get_positions()["ch_pos"]
    apart = [np.abs(place[old] - place[read_label(old).name]).max() for old in fact["names"]]
    renamed = same({old: read_label(old).name for old in fact["names"]}, fact["names"])
    passed = renamed.passed and max(apart) < 1e-4
    return Result(renamed.expected, "0.1 mm", renamed.measured, passed)


@check(
    "formats",
    "old-and-new",
    "A file with an old and a new name of one place is refused",
    fact="old-names",
)
def old_and_new(given: Given, fact: Fact) -> Result:
    found = [read_labels([*STANDARD_19, old], 16).problems[0].code for old in fact["names"]]
    return same(found, ["old-and-new-name"] * 4)


@check("formats", "ten-ten", "All 10-10 names are known, and the 19 are those of the 10-20 system")
def known_names(given: Given, fact: Fact) -> Result:
    import mne

    there = set(mne.channels.make_standard_montage("fsaverage_1010").ch_names)
    twenty = set(mne.channels.make_standard_montage("fsaverage_1020").ch_names)
    unknown = sorted(there - {"LPA", "RPA", "NAS"} - ten_ten())
    return near(
        [len(unknown), len(set(STANDARD_19) & twenty)], [0, fact["electrodes"]], unit="names"
    )
