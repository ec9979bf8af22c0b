"""EDF and EDF+ header rules, by item of the specification (edfplus.info)."""

import pytest

from aftersit.intake.edf_header import read_edf_header
from aftersit.intake.problems import UploadError
from small_uploads import START, edf_bytes


def patched(offset: int, field: bytes, **options) -> bytes:
    data = bytearray(edf_bytes(**options))
    data[offset : offset + len(field)] = field
    return bytes(data)


def header_of(tmp_path, data: bytes):
    (tmp_path / "a.edf").write_bytes(data)
    return read_edf_header(tmp_path / "a.edf")


def test_fields_of_a_file_written_by_another_library(tmp_path):
    header = header_of(tmp_path, edf_bytes(annotations=[(3.0, 2.0, "practising")]))
    first = header.signals[0]
    assert (header.kind, header.start, header.duration_s) == ("EDF", START, 64.0)
    assert (first.label, first.unit, first.filters.lowpass_hz) == ("Fp1", "uV", 40.0)
    assert header.rate_hz(first) == 128.0
    assert first.step == pytest.approx(2 * 3276.7 / 65535)  # (pmax - pmin) / (dmax - dmin)
    assert header.signals[-1].is_annotations


def test_bdf_samples_have_three_bytes(tmp_path):
    header = header_of(tmp_path, edf_bytes(bdf=True))
    assert (header.kind, header.duration_s) == ("BDF", 64.0)


def test_the_customary_date_of_an_anonymous_file_is_no_date(tmp_path):
    assert header_of(tmp_path, patched(168, b"01.01.85")).start is None


@pytest.mark.parametrize(
    ("data", "code", "text"),
    [
        (lambda: patched(192, b"EDF+D"), "discontinuous", "gaps"),
        (lambda: patched(236, b"-1      "), "truncated", "never closed"),
        (lambda: edf_bytes()[:-1000], "truncated", "by its header it should have"),
        (lambda: edf_bytes() + b"\0", "truncated", "by its header it should have"),
        (lambda: edf_bytes()[:3000], "truncated", "ends inside its header"),
        (lambda: b"PK" + edf_bytes()[2:], "broken-header", "does not start like"),
        (lambda: patched(244, b"0       "), "broken-header", "record duration is 0 s"),
        (lambda: patched(244, b"1,5     "), "broken-header", "decimal point"),
        (lambda: patched(252, b"x   "), "broken-header", "number of signals"),
    ],
)
def test_broken_files_are_named(tmp_path, data, code, text):
    with pytest.raises(UploadError) as caught:
        header_of(tmp_path, data())
    (problem,) = caught.value.problems
    assert problem.code == code
    assert text in problem.found
