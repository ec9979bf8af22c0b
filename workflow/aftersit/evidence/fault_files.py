"""Deliberate faults in reading recordings and writing BIDS."""

import numpy as np

from aftersit.evidence.fault_parts import returning, scaled
from aftersit.evidence.faults import Fault

FORMATS = (
    Fault(
        "years-1900",
        ("formats",),
        "all two-digit years belong to the last century",
        (
            (
                "aftersit.intake.edf_header._start",
                lambda f: lambda *a: (t := f(*a)) and t.replace(year=1900 + t.year % 100),
            ),
        ),
    ),
    Fault(
        "gain-sign",
        ("formats",),
        "a negative gain loses its sign",
        (("aftersit.intake.readers._rows", lambda f: lambda raw, rows: np.abs(f(raw, rows))),),
    ),
    Fault(
        "unit-mv",
        ("formats", "bids", "archive"),
        "microvolts are taken for millivolts",
        (("aftersit.intake.readers._in_volts", scaled(1000)),),
    ),
    Fault(
        "gaps-taken",
        ("formats",),
        "cut and open files are taken",
        (("aftersit.intake.edf_header._check_whole", returning(None)),),
    ),
    Fault(
        "seconds-for-samples",
        ("formats", "bids"),
        "onsets of markers are samples, not seconds",
        (
            (
                "aftersit.intake.readers.Annotation",
                lambda c: lambda onset, duration, text: c(onset * 128, duration, text),
            ),
        ),
    ),
    Fault(
        "markers-lost",
        ("formats",),
        "of two texts at one time only one is kept",
        (
            (
                "aftersit.intake.readers._annotations",
                lambda f: lambda raw: tuple({a.onset_s: a for a in f(raw)}.values()),
            ),
        ),
    ),
    Fault(
        "filters-unread",
        ("formats", "bids"),
        "high-pass and low-pass of a header change places",
        (
            (
                "aftersit.intake.prefilter.Filters",
                lambda c: lambda high, low, notches: c(low, high, notches),
            ),
        ),
    ),
    Fault(
        "time-constant",
        ("formats",),
        "a time constant is taken for a corner frequency",
        (("aftersit.intake.prefilter._hertz", lambda f: lambda value, unit, time_constant: value),),
    ),
    Fault(
        "old-name-swap",
        ("formats",),
        "T3 is taken for T8 and T4 for T7",
        (("aftersit.electrodes._names", lambda f: lambda: f() | {"t3": "T8", "t4": "T7"}),),
    ),
    Fault(
        "bdf-two-bytes",
        ("formats",),
        "a BDF sample is taken for two bytes",
        (("aftersit.intake.edf_header.EdfHeader.sample_bytes", returning(2)),),
    ),
    Fault(
        "header-length",
        ("formats",),
        "a signal's header is taken to be 128 bytes long",
        (
            (
                "aftersit.intake.edf_header.EdfHeader.header_bytes",
                lambda p: property(lambda h: 256 + 128 * len(h.signals)),
            ),
            ("aftersit.intake.edf_header._check_whole", returning(None)),
        ),
    ),
    Fault(
        "one-code-for-all",
        ("formats",),
        "every broken header is told to be cut short",
        (("aftersit.intake.edf_header._broken", lambda f: _cut_short),),
    ),
    Fault(
        "doubled-taken",
        ("formats",),
        "two channels of one place are taken",
        (("aftersit.electrodes._doubled", lambda f: lambda channels: []),),
    ),
    Fault(
        "name-forgotten",
        ("formats",),
        "a place of the 10-10 system is not known",
        (("aftersit.evidence.checks.formats.ten_ten", lambda f: lambda: f() - {"AF7"}),),
    ),
)


def _cut_short(found: str):
    from aftersit.intake.problems import Problem, UploadError

    return UploadError(Problem("truncated", "recording", found, "copy it again"))


BIDS = (
    Fault(
        "age-open",
        ("bids",),
        "ages are not capped",
        (("aftersit.bids.dataset.OLDEST", returning(200)),),
    ),
    Fault(
        "column-order",
        ("bids",),
        "columns of the channels table stand in another order",
        (("aftersit.bids.tables.CHANNEL_COLUMNS", lambda c: (c[1], c[0], *c[2:])),),
    ),
    Fault(
        "lower-case-types",
        ("bids",),
        "channel types are written in lower case",
        (
            (
                "aftersit.bids.tables._channel_row",
                lambda f: lambda *a: [(r := f(*a))[0], r[1].lower(), *r[2:]],
            ),
        ),
    ),
    Fault(
        "missing-empty",
        ("bids",),
        "missing values are left empty",
        (("aftersit.bids.tables.MISSING", returning("")),),
    ),
    Fault(
        "key-missing",
        ("bids",),
        "the sidecar forgets the power line's frequency",
        (
            (
                "aftersit.bids.write.eeg_json",
                lambda f: lambda *a: {k: v for k, v in f(*a).items() if k != "PowerLineFrequency"},
            ),
        ),
    ),
    Fault(
        "counts-off",
        ("bids",),
        "the sidecar counts all channels as EEG",
        (
            (
                "aftersit.bids.write.eeg_json",
                lambda f: lambda *a: f(*a) | {"EEGChannelCount": 20, "ECGChannelCount": 0},
            ),
        ),
    ),
    Fault(
        "events-unsorted",
        ("bids",),
        "events are written from the last to the first",
        (("aftersit.bids.write.events_tsv", lambda f: lambda *a: _turned(f(*a))),),
    ),
    Fault(
        "labels-with-dash",
        ("bids",),
        "client codes reach labels with a dash in them",
        (
            (
                "aftersit.bids.dataset.write_shared",
                lambda f: lambda root, sitting, sheet: f(root, _dashed(sitting), sheet),
            ),
            (
                "aftersit.bids.write.write_shared",
                lambda f: lambda root, sitting, sheet: f(root, _dashed(sitting), sheet),
            ),
        ),
    ),
    Fault(
        "times-with-space",
        ("bids",),
        "times of scans have a space for the T",
        (("aftersit.bids.write.scans_tsv", lambda f: lambda *a: f(*a).replace("T17", " 17")),),
    ),
    Fault(
        "version-wrong",
        ("bids",),
        "the dataset names a version that it does not follow",
        (("aftersit.bids.dataset.BIDS_VERSION", returning("1.0.0")),),
    ),
    Fault(
        "positions-mm",
        ("bids",),
        "positions are written in millimetres as if in metres",
        (("aftersit.bids.write.write_signal", lambda f: lambda *a: _in_mm(f, *a)),),
    ),
)


def _turned(text: str) -> str:
    head, *rows = text.splitlines()
    return "\n".join([head, *reversed(rows)]) + "\n"


def _dashed(sitting):
    class Dashed(type(sitting)):
        pass

    made = object.__new__(Dashed)
    object.__setattr__(made, "client", f"{sitting.client}-a")
    object.__setattr__(made, "number", sitting.number)
    return made


def _in_mm(write, root, *rest):
    write(root, *rest)
    for path in root.rglob("*_electrodes.tsv"):
        head, *rows = path.read_text().splitlines()
        cells = [row.split("\t") for row in rows]
        told = [[c[0], *(v if v == "n/a" else str(float(v) * 1000) for v in c[1:4]), *c[4:]]
                for c in cells]  # fmt: skip
        path.write_text("\n".join([head, *("\t".join(row) for row in told)]) + "\n")
