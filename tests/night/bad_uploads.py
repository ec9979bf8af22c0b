"""Kinds of bad and odd upload, one line each: what it is, what is expected, how it is made.

Expected is `taken`, or the codes of the reasons for setting it aside. Field offsets are
those of the EDF specification (https://www.edfplus.info/specs/edf.html), keys of a
`.vhdr` those of the BrainVision Core Data Format 1.0.
"""

import base64
import gzip
import os
import re
import socket
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import yaml

from aftersit.electrodes import STANDARD_19
from small_uploads import RATE, edf_bytes, write_brainvision, write_fif

SHEET = {
    "client": "K07",
    "date": "2026-03-14",
    "practice": "quiet-rest",
    "protocol": "soft-alpha",
    "eyes": "closed",
    "blocks": [{"kind": "practice", "start": "00:00", "end": "01:00"}],
}
SECONDS = 62
N = len(STANDARD_19)
TAKEN = "taken"


@dataclass(frozen=True)
class Case:
    """One kind of upload; `name` is its folder's name."""

    name: str
    expected: str
    make: Callable[[Path], object]


CASES: list[Case] = []


def case(name: str, expected: str, make: Callable[[Path], object]) -> None:
    CASES.append(Case(name, expected, make))


# ---- how they are made -------------------------------------------------------


def signal(seed: int, channels: int = N, seconds: float = SECONDS, rate: float = RATE):
    noise = np.random.default_rng(seed).normal(0, 11, (channels, round(seconds * rate)))
    return np.round(noise, 2)


def good_edf(seed: int, labels=STANDARD_19, **options) -> bytes:
    """A valid EDF+ (or BDF) of its own bytes; one record lasts a second."""
    options.setdefault("data", signal(seed, len(labels)))
    return edf_bytes(labels, **options)


def put_sheet(folder: Path, **changes) -> None:
    sheet = {k: v for k, v in {**SHEET, **changes}.items() if v is not None}
    (folder / "sitting.yaml").write_text(yaml.safe_dump(sheet, allow_unicode=True), "utf-8")


def file(data: bytes, name: str = "rec.edf", **changes) -> Callable[[Path], None]:
    """An upload of these bytes and a good sheet."""

    def make(folder: Path) -> None:
        (folder / name).write_bytes(data)
        put_sheet(folder, **changes)

    return make


def fixed(data: bytes, start: int, text: str, width: int = 8) -> bytes:
    """One field of the fixed header, written anew."""
    return data[:start] + text.encode().ljust(width) + data[start + width :]


def field(data: bytes, start: int, text: str, which: int = 3, width: int = 8) -> bytes:
    """One signal's field; `start` is the offset of the column for a file of one signal."""
    count = int(data[252:256])
    return fixed(data, 256 + start * count + which * width, text, width)


EDF = good_edf(1)
RECORDS, DURATION, SIGNALS, HEADER_BYTES = 236, 244, 252, 184
UNIT, PHYSICAL_LOW, PHYSICAL_HIGH, DIGITAL_LOW, DIGITAL_HIGH, SAMPLES = 96, 104, 112, 120, 128, 216
RECORD_BYTES = (len(EDF) - 256 * (1 + int(EDF[252:256]))) // int(EDF[RECORDS : RECORDS + 8])


def all_signals(data: bytes, start: int, text: str) -> bytes:
    for which in range(N):
        data = field(data, start, text, which)
    return data


def clock(data: bytes, record: int, onset: str) -> bytes:
    """The time-keeping annotation of a record (EDF+ 2.2.4), written anew."""
    old = f"+{record}\x14\x14".encode()
    new = f"{onset}\x14\x14".encode()
    at = data.index(old, 256 * (1 + int(data[252:256])) + record * RECORD_BYTES)
    padded = new.ljust(len(old), b"\0")
    return data[:at] + padded + data[at + len(padded) :]


def sparse_edf(seconds: int) -> Callable[[Path], None]:
    """A whole file of that length by its header; its samples are zeros and take no room."""

    def make(folder: Path) -> None:
        put_sheet(folder)
        head = fixed(EDF, RECORDS, str(seconds))[: 256 * (1 + int(EDF[252:256]))]
        with (folder / "rec.edf").open("wb") as out:
            out.write(head)
            out.truncate(len(head) + seconds * RECORD_BYTES)

    return make


def brainvision(seed: int, change=None, **edits) -> Callable[[Path], None]:
    """A BrainVision upload; `edits` replace values of keys, `change` gets the folder."""

    def make(folder: Path) -> None:
        put_sheet(folder)
        write_brainvision(folder, data=signal(seed))
        head = folder / "rec.vhdr"
        text = head.read_text("utf-8")
        for key, value in edits.items():
            text, count = re.subn(rf"(?m)^{key}=.*$", lambda m, k=key, v=value: f"{k}={v}", text)
            assert count, key
        head.write_text(text, "utf-8")
        if change:
            change(folder)

    return make


def floats(seed: int, value: float) -> Callable[[Path], None]:
    """BrainVision of 32-bit floats with one sample that is no number."""

    def spoil(folder: Path) -> None:
        samples = np.fromfile(folder / "rec.eeg", "<f4")
        samples[4321] = value
        samples.tofile(folder / "rec.eeg")

    return brainvision(seed, spoil)


def fif(seed: int, change=None, labels=STANDARD_19, data=None) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        put_sheet(folder)
        write_fif(folder / "rec.fif", labels, signal(seed, len(labels)) if data is None else data)
        if change:
            change(folder / "rec.fif")

    return make


def spoilt(seed: int, value: float) -> np.ndarray:
    data = signal(seed)  # in microvolts
    data[5, 777:779] = value
    return data


def rewrite(change: Callable[[bytes], bytes]) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(change(path.read_bytes()))


def sheet(text: str | bytes, seed: int = 1) -> Callable[[Path], None]:
    """A good recording and this text as its sheet."""

    def make(folder: Path) -> None:
        (folder / "rec.edf").write_bytes(good_edf(seed))
        data = text.encode() if isinstance(text, str) else text
        (folder / "sitting.yaml").write_bytes(data)

    return make


def sheet_with(seed: int = 1, **changes) -> Callable[[Path], None]:
    return file(good_edf(seed), **changes)


def beside(seed: int, *work: Callable[[Path], object]) -> Callable[[Path], None]:
    """A good upload, and something more."""

    def make(folder: Path) -> None:
        file(good_edf(seed))(folder)
        for one in work:
            one(folder)

    return make


def only(work: Callable[[Path], object]) -> Callable[[Path], None]:
    """A good sheet, and this in place of a recording."""

    def make(folder: Path) -> None:
        put_sheet(folder)
        work(folder)

    return make


def in_place_of_the_folder(work: Callable[[Path], object]) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        folder.rmdir()
        work(folder)

    return make


def bind_socket(path: Path) -> None:
    here = os.open(path.parent, os.O_RDONLY)
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(f"/proc/self/fd/{here}/{path.name}")  # the whole path may be too long
    os.close(here)


def zipped(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("rec.edf", EDF)


WITH_LINES = EDF[:6000] + EDF[6000:].replace(b"\x00\x0a", b"\x0d\x0a")
"""Samples of which some happen to be a carriage return and a line feed."""
GOOD = yaml.safe_dump(SHEET)
PRACTICE = SHEET["blocks"][0]
BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{b}: &{b} [*{a}, *{a}, *{a}, *{a}, *{a}, *{a}, *{a}, *{a}, *{a}]\n"
    for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)

# ---- the recording: EDF and BDF ---------------------------------------------

case("empty file", "broken-header", file(b""))
case("one byte", "broken-header", file(b"0"))
case("cut inside the fixed header", "broken-header", file(EDF[:100]))
case("cut inside the signals' header", "truncated", file(EDF[:3000]))
case("last record cut", "truncated", file(EDF[:-1000]))
case("last byte cut", "truncated", file(EDF[:-1]))
case("first half only", "truncated", file(EDF[: len(EDF) // 2]))
case("one byte more", "truncated", file(EDF + b"\0"))
case("one record of zeros more", "truncated", file(EDF + bytes(RECORD_BYTES)))
case("the file twice in one", "truncated", file(EDF + EDF))
case("records: not closed (-1)", "truncated", file(fixed(EDF, RECORDS, "-1")))
case("records: one too many", "truncated", file(fixed(EDF, RECORDS, str(SECONDS + 1))))
case("records: one too few", "truncated", file(fixed(EDF, RECORDS, str(SECONDS - 1))))
case("records: none", "truncated", file(fixed(EDF, RECORDS, "0")))
case("records: no number", "broken-header", file(fixed(EDF, RECORDS, "many")))
case("records: 99999999", "truncated", file(fixed(EDF, RECORDS, "99999999")))
case("record duration 0", "broken-header", file(fixed(EDF, DURATION, "0")))
case("record duration negative", "broken-header", file(fixed(EDF, DURATION, "-1")))
case("record duration 1e-9", "discontinuous", file(fixed(EDF, DURATION, "1e-9")))
case("record duration 9 s instead of 1", "discontinuous", file(fixed(EDF, DURATION, "9")))
case("no signals", "broken-header", file(fixed(EDF, SIGNALS, "0", 4)))
case("5000 signals", "broken-header", file(fixed(EDF, SIGNALS, "5000", 4)))
case("one signal more than there is", "broken-header", file(fixed(EDF, SIGNALS, "21", 4)))
case("header length lies", "broken-header", file(fixed(EDF, HEADER_BYTES, "5120")))
case("header length no number", "broken-header", file(fixed(EDF, HEADER_BYTES, "x")))
case("samples of a signal doubled", "truncated", file(field(EDF, SAMPLES, "256")))
case("samples of a signal 0", "broken-header", file(field(EDF, SAMPLES, "0")))
case("samples of a signal negative", "broken-header", file(field(EDF, SAMPLES, "-128")))
case("gain zero", "broken-header", file(field(EDF, PHYSICAL_HIGH, "-3276.7")))
case("gain zero everywhere", "broken-header", file(all_signals(EDF, PHYSICAL_HIGH, "-3276.7")))
case("digital range inverted", "broken-header", file(field(field(EDF, DIGITAL_LOW, "99"), DIGITAL_HIGH, "-99")))  # fmt: skip
case("digital range empty", "broken-header", file(field(EDF, DIGITAL_LOW, "32767")))
case("physical limit with a decimal comma", "broken-header", file(field(EDF, PHYSICAL_LOW, "-3276,7")))  # fmt: skip
case("physical limit NaN", "broken-header", file(field(EDF, PHYSICAL_LOW, "nan")))
case("physical limit infinite", "broken-header", file(field(EDF, PHYSICAL_HIGH, "inf")))
case("physical limit missing", "broken-header", file(field(EDF, PHYSICAL_HIGH, "")))
case("line ends made CR LF", "text-damage", file(WITH_LINES.replace(b"\n", b"\r\n")))
case("line ends made LF", "truncated", file(WITH_LINES.replace(b"\x0d\x0a", b"\x0a")))
case("bytes made UTF-8", "text-damage", file(EDF.decode("latin-1").encode("utf-8")))
case("bytes lost to UTF-8", "text-damage", file(EDF.decode("utf-8", "replace").encode("utf-8")))
case("base64 instead of bytes", "broken-header", file(base64.b64encode(EDF)))
case("gzip under the name .edf", "broken-header", file(gzip.compress(EDF, 1, mtime=0)))
case("a login page under the name .edf", "broken-header", file(b"<!DOCTYPE html><html>sign in"))
case("a PDF under the name .edf", "broken-header", file(b"%PDF-1.7\n" + bytes(5000)))
case("EDF+D", "discontinuous", file(fixed(EDF, 192, "EDF+D", 44)))
case("BDF+D", "discontinuous", file(fixed(good_edf(2, bdf=True), 192, "BDF+D", 44), "rec.bdf"))
case("record clock jumps on", "discontinuous", file(clock(EDF, 30, "+95")))
case("record clock goes back", "discontinuous", file(clock(EDF, 30, "+7")))
case("record clock stands still", "discontinuous", file(clock(EDF, 31, "+30")))
case("all zeros", "too-short", file(good_edf(1, data=0 * signal(1))))
case("20 seconds", "too-short", file(good_edf(1, data=signal(1, seconds=20))))
case("59 seconds", "too-short", file(good_edf(1, data=signal(1, seconds=59))))
case("signal only in the first 20 seconds", "too-short", file(good_edf(1, data=signal(1) * (np.arange(SECONDS * RATE) < 20 * RATE))))  # fmt: skip
case("6 hours", "too-long", sparse_edf(6 * 3600))
case("50 samples a second", "rate", file(good_edf(1, data=signal(1, rate=50), rate=50)))
case("8 kHz", "rate", file(good_edf(1, data=signal(1, rate=8000, seconds=61), rate=8000)))
case("1 electrode", "too-few-electrodes", file(good_edf(1, ["Cz"])))
case("15 electrodes", "too-few-electrodes", file(good_edf(1, STANDARD_19[:15])))
case("16 electrodes", TAKEN, file(good_edf(101, STANDARD_19[:16])))
case("256 electrodes", TAKEN, file(good_edf(102, [*[f"E{n}" for n in range(237)], *STANDARD_19])))
case("names that mean nothing", "too-few-electrodes", file(good_edf(1, [f"Ch {n}" for n in range(N)])))  # fmt: skip
case("old names of the 10-20 system", TAKEN, file(good_edf(103, [{"T7": "T3", "T8": "T4", "P7": "T5", "P8": "T6"}.get(n, n) for n in STANDARD_19])))  # fmt: skip
case("an electrode twice", "electrode-twice", file(good_edf(1, [*STANDARD_19, "EEG Cz"])))
case("an old and a new name", "old-and-new-name", file(good_edf(1, [*STANDARD_19, "T3"])))
case("bipolar", "bipolar", file(good_edf(1, ["Fp1-F3", "F3-C3", "C3-P3", "P3-O1"])))
case("another reference for some", "mixed-reference", file(good_edf(1, [*[f"{n}-LE" for n in STANDARD_19[:4]], *[f"{n}-AVG" for n in STANDARD_19[4:]]])))  # fmt: skip
case("8 electrodes flat", "too-few-electrodes", file(good_edf(1, data=signal(1) * (np.arange(N) > 7)[:, None])))  # fmt: skip
case("2 electrodes flat", TAKEN, file(good_edf(104, data=signal(104) * (np.arange(N) > 1)[:, None])))  # fmt: skip
case("unit mV for uV", "amplitude-too-large", file(all_signals(EDF, UNIT, "mV")))
case("unit nV for uV", "amplitude-too-small", file(all_signals(EDF, UNIT, "nV")))
case("unit kPa", "unit-unknown", file(all_signals(EDF, UNIT, "kPa")))
case("no unit", "unit-unknown", file(all_signals(EDF, UNIT, "")))
case("unit V, and numbers to match", TAKEN, file(good_edf(105, data=signal(105) * 1e-6, unit="V", limit=0.0033)))  # fmt: skip
case("BDF cut", "truncated", file(good_edf(3, bdf=True)[:-7], "rec.bdf"))
case("BDF", TAKEN, file(good_edf(106, bdf=True), "rec.bdf"))
case("EDF named .bdf", "wrong-ending", file(EDF, "rec.bdf"))
case("BDF named .edf", "wrong-ending", file(good_edf(3, bdf=True), "rec.edf"))
case("EDF named .EDF", TAKEN, file(good_edf(107), "REC.EDF"))
case("start on 31 February", TAKEN, file(fixed(good_edf(108), 168, "31.02.26")))
case("start in 1985", TAKEN, file(fixed(good_edf(109), 168, "01.01.85")))
case("no date anywhere", "no-date", file(good_edf(1, start=None), date=None))

# ---- the recording: BrainVision and FIF --------------------------------------

case("BrainVision", TAKEN, brainvision(110))
case("BrainVision without .eeg", "part-missing", brainvision(4, lambda f: (f / "rec.eeg").unlink()))
case("BrainVision without .vmrk", "part-missing", brainvision(4, lambda f: (f / "rec.vmrk").unlink()))  # fmt: skip
case("BrainVision without .vhdr", "no-recording", brainvision(4, lambda f: (f / "rec.vhdr").unlink()))  # fmt: skip
case("BrainVision leads out of the folder", "part-missing", brainvision(4, DataFile="../rec.eeg"))
case("BrainVision leads to the system", "part-missing", brainvision(4, DataFile="/etc/passwd"))
case("BrainVision markers lead out", "part-missing", brainvision(4, MarkerFile="..\\\\rec.vmrk"))
case("BrainVision renamed", "part-missing", brainvision(4, lambda f: (f / "rec.eeg").rename(f / "b.eeg")))  # fmt: skip
case("BrainVision header is its own signal", "part-missing", brainvision(4, DataFile="rec.vhdr"))
case("BrainVision header is its own marker file", "part-missing", brainvision(4, MarkerFile="rec.vhdr"))  # fmt: skip
case("BrainVision signal empty", "too-short", brainvision(4, lambda f: (f / "rec.eeg").write_bytes(b"")))  # fmt: skip
case("BrainVision signal cut inside a sample", "truncated", brainvision(4, lambda f: rewrite(lambda d: d[:-3])(f / "rec.eeg")))  # fmt: skip
case("BrainVision with one channel more", "truncated", brainvision(4, NumberOfChannels="20"))
case(
    "BrainVision with 10^9 channels", "broken-header", brainvision(4, NumberOfChannels="1000000000")
)
case("BrainVision interval 0", "unreadable", brainvision(4, SamplingInterval="0"))
case("BrainVision interval no number", "unreadable", brainvision(4, SamplingInterval="fast"))
case("BrainVision interval negative", "rate", brainvision(4, SamplingInterval="-7812.5"))
case("BrainVision of unknown numbers", "unreadable", brainvision(4, BinaryFormat="FLOAT_128"))
case("BrainVision header empty", "part-missing", brainvision(4, lambda f: (f / "rec.vhdr").write_bytes(b"")))  # fmt: skip
case("BrainVision header UTF-16", "part-missing", brainvision(4, lambda f: rewrite(lambda d: d.decode().encode("utf-16"))(f / "rec.vhdr")))  # fmt: skip
case("BrainVision gain NaN", "unreadable", brainvision(4, Ch3="F7,,nan,µV"))
case("BrainVision gain 0", "unreadable", brainvision(4, Ch3="F7,,0,µV"))
case("BrainVision with a NaN", "not-finite", floats(4, np.nan))
case("BrainVision with an infinity", "not-finite", floats(4, -np.inf))
case("FIF", TAKEN, fif(112))
case("FIF cut", "truncated", fif(5, rewrite(lambda d: d[: len(d) // 3])))
case("FIF empty", "truncated", fif(5, rewrite(lambda d: b"")))
case("FIF with NaN", "not-finite", fif(5, data=spoilt(5, np.nan)))
case("FIF with an infinity", "not-finite", fif(5, data=spoilt(5, np.inf)))
case("FIF with 1e200 V", "not-finite", fif(5, data=spoilt(5, 1e206)))
case("FIF with 12 V", "impossible-values", fif(5, data=spoilt(5, -12e6)))
case("FIF of one electrode", "too-few-electrodes", fif(5, labels=["Pz"]))

# ---- the folder ----------------------------------------------------------------

case("empty folder", "no-recording no-sheet", lambda folder: None)
case("no recording", "no-recording", only(lambda f: None))
case("no sheet", "no-sheet", beside(1, lambda f: (f / "sitting.yaml").unlink()))
case("sheet named sitting.yml", "no-sheet", beside(1, lambda f: (f / "sitting.yaml").rename(f / "sitting.yml")))  # fmt: skip
case("two recordings", "several-recordings", beside(1, lambda f: (f / "more.edf").write_bytes(EDF)))
case("a further file", "foreign-files", beside(1, lambda f: (f / "scan.pdf").write_bytes(b"%PDF")))
case("a folder inside", "sub-folder", beside(1, lambda f: (f / "more").mkdir()))
case("a link inside", "link", beside(1, lambda f: (f / "x.txt").symlink_to("rec.edf")))
case("a ring of links inside", "link", beside(1, lambda f: (f / "x").symlink_to(f)))
case("the recording is a link", "link no-recording", only(lambda f: (f / "rec.edf").symlink_to("/dev/zero")))  # fmt: skip
case("the sheet is a link", "link no-sheet", lambda f: [file(EDF)(f), (f / "sitting.yaml").unlink(), (f / "sitting.yaml").symlink_to("/etc/passwd")])  # fmt: skip
case("the recording is a pipe", "special-file no-recording", only(lambda f: os.mkfifo(f / "rec.edf")))  # fmt: skip
case("the recording is a socket", "special-file no-recording", only(lambda f: bind_socket(f / "rec.edf")))  # fmt: skip
case("a zip file alone", "no-recording", only(lambda f: zipped(f / "upload.zip")))
case("a file in place of a folder", "not-a-folder", in_place_of_the_folder(lambda p: p.write_bytes(EDF)))  # fmt: skip
case("a link in place of a folder", "not-a-folder", in_place_of_the_folder(lambda p: p.symlink_to("/etc")))  # fmt: skip
case("a pipe in place of a folder", "not-a-folder", in_place_of_the_folder(os.mkfifo))
case("what desktops leave in folders", TAKEN, beside(113, lambda f: (f / ".DS_Store").write_bytes(b"x")))  # fmt: skip
case("x" * 255, TAKEN, file(good_edf(114)))
case(os.fsdecode(b"Gr\xfcn\n\x1b[2J"), TAKEN, file(good_edf(115)))
case("$(touch hurt); rm -rf 'a'", TAKEN, file(good_edf(116), "a b'c$(x).edf"))
case("a file name of 255 bytes", TAKEN, file(good_edf(117), "r" * 251 + ".edf"))
case("a file name of odd bytes", TAKEN, file(good_edf(118), os.fsdecode(b"\xe4\n.edf")))

# ---- the sheet -----------------------------------------------------------------

case("sheet empty", "sheet", sheet(""))
case("sheet of bytes", "sheet-encoding", sheet(bytes(range(256))))
case("sheet in Latin-1", "sheet-encoding", sheet((GOOD + "notes: Grün\n").encode("latin-1")))
case("sheet in UTF-16", "sheet-encoding", sheet(GOOD.encode("utf-16")))
case("sheet with a byte order mark", TAKEN, sheet(b"\xef\xbb\xbf" + GOOD.encode(), 119))
case("sheet with CR LF", TAKEN, sheet(GOOD.replace("\n", "\r\n"), 120))
case("sheet with tabs", "sheet", sheet("client:\tK07\nblocks:\n\t- kind: practice\n"))
case("sheet a list", "sheet", sheet("- client\n- K07\n"))
case("sheet of two documents", "sheet", sheet(GOOD + "---\n" + GOOD))
case("sheet a bomb of aliases", "sheet", sheet(BOMB + GOOD))
case("sheet with a merge key", "sheet", sheet(GOOD + "<<: {notes: x}\n"))
case("sheet with a tag of Python", "sheet", sheet(GOOD + "notes: !!python/object/apply:os.system [x]\n"))  # fmt: skip
case("sheet with a tag of YAML", "sheet", sheet(GOOD + "notes: !!binary aGk=\n"))
case("sheet nested 5000 deep", "sheet", sheet(GOOD + "notes: " + "[" * 5000 + "]" * 5000 + "\n"))
case("sheet of 2 MB", "sheet", sheet(GOOD + "notes: " + "x" * 2_000_000 + "\n"))
case("sheet with a number of 9000 digits", "sheet", sheet(GOOD + "age: " + "9" * 9000 + "\n"))
case("sheet with a key twice", "sheet", sheet(GOOD + "client: K08\n"))
case("sheet with an unknown key", "sheet", sheet_with(practise="x"))
case("sheet without a client", "sheet", sheet_with(client=None))
case("client a path", "sheet", sheet_with(client="../../etc"))
case("client an absolute path", "sheet", sheet_with(client="/tmp/x"))
case("client with a line end", "sheet", sheet(GOOD.replace("K07", '"K07\\n"')))
case("client a name", "sheet", sheet_with(client="Erika Mustermann"))
case("client with an accent", "sheet", sheet_with(client="Zoë7"))
case("client in Arabic digits", "sheet", sheet_with(client="K٣٤"))
case("client a number", "sheet", sheet_with(client=12))
case("client of one letter", "sheet", sheet_with(client="K"))
case("client in another case", "client-code-case", sheet_with(6, client="k07"))
case("protocol a path", "sheet", sheet_with(protocol="../soft-alpha"))
case("protocol that is not there", "unknown-protocol", sheet_with(protocol="soft-beta"))
case("date of another kind", "sheet", sheet_with(date="14.3.2026"))
case("30 February", "sheet", sheet_with(date="2026-02-30"))
case("year 0", "sheet", sheet_with(date="0000-01-01"))
case("no blocks", "sheet", sheet_with(blocks=[]))
case("blocks from annotations that are not there", "no-blocks", sheet_with(blocks="from-annotations"))  # fmt: skip
case("blocks that overlap", "sheet", sheet_with(blocks=[PRACTICE, {**PRACTICE, "start": "00:30"}]))
case("blocks out of order", "sheet", sheet_with(blocks=[{**PRACTICE, "start": "00:30"}, {**PRACTICE, "end": "00:20"}]))  # fmt: skip
case("a block that ends before it starts", "sheet", sheet_with(blocks=[{**PRACTICE, "start": "01:01"}]))  # fmt: skip
case("a block after the recording", "block-outside", sheet_with(blocks=[{**PRACTICE, "end": "09:00"}]))  # fmt: skip
case("a block of negative time", "sheet", sheet_with(blocks=[{**PRACTICE, "start": -5}]))
case("a block at NaN", "sheet", sheet_with(blocks=[{**PRACTICE, "start": float("nan")}]))
case("a block at infinity", "sheet", sheet_with(blocks=[{**PRACTICE, "end": float("inf")}]))
case("a block at 1e999", "sheet", sheet(GOOD.replace("01:00", "x").replace("end: x", "end: 1e999")))
case("notes with control characters", "sheet", sheet_with(notes="a\x07b"))
case("notes of 5000 characters", "sheet", sheet_with(notes="x" * 5000))
case("rating 11", "sheet", sheet_with(ratings={"before": {"calm": 11}}))
case("sheet and recording both bad", "sheet truncated", file(EDF[:-9], practise="x"))
