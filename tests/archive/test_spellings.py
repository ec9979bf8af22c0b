"""Ways to write, pack and hide what tells who somebody is: the scan finds each of them."""

import base64
import codecs
import datetime as dt
import gzip

import pytest
from wrappings import WRAPPINGS, zipped

from aftersit.archive.scan import scan
from aftersit.archive.secrets import Secrets

BORN, SAT = dt.date(1951, 5, 2), dt.datetime(2026, 3, 14, 17, 5, 9)


@pytest.fixture(scope="module")
def secrets():
    """Names, numbers, dates and notes of invented people, as a clinic's files hold them."""
    made = Secrets()
    for name in ("Ludmilla Quastenberg", "Ana Huber", "Jörg Müller", "O'Brien-Smythe"):
        made.add_name(name, "a name")
    for name in ("Łukasz Çelik", "Иванова Мария", "Εύα Παππά", "王小明", "Şeyma Yıldırım"):
        made.add_name(name, "a name")
    for number in ("+43 664 12 34 567", "1234 020551", "447-1903", "SN 00-92-817"):
        made.add_name(number, "a number")
    made.add_note("Her brother Fridolin drowned. Ring 0676 555 01 99", "a note")
    made.add_date(BORN)
    made.add_start(SAT, SAT.replace(tzinfo=dt.timezone(dt.timedelta(hours=1))))
    return made


def kinds(tmp_path, secrets, data, name="file.txt"):
    (tmp_path / name).write_bytes(data if isinstance(data, bytes) else data.encode())
    return {finding.kind for finding in scan(tmp_path, secrets)}


NAMES = {
    "names run together": "LudmillaQuastenberg",
    "a name and an initial": "QuastenbergL",
    "names in small letters": "quastenbergludmilla",
    "a name and a year": "huber1951",
    "a name after a mark": "rec_Quastenberg_1951_a",
    "a soft hyphen": "Quasten\u00adberg",
    "a space without width": "Quasten\u200bberg",
    "an apostrophe left out": "OBrien",
    "another apostrophe": "O\u2019Brien",
    "letters of full width": "Ｈｕｂｅｒ",
    "a letter with a stroke": "Lukasz",
    "small Cyrillic letters": "мария иванова",
    "Greek without an accent": "ευα παππα",
    "three Chinese characters": "王小明",
    "a Turkish letter without a dot": "YILDIRIM",
}
NUMBERS = {
    "a phone number in other groups": "0664 1234567",
    "a phone number without groups": "06641234567",
    "a phone number with signs": "(0664) 123-45/67",
    "an insurance number in groups": "1234 020551",
    "an insurance number without groups": "1234020551",
    "a patient number without its hyphen": "4471903",
    "a serial number without its hyphens": "0092817",
    "a serial number after letters": "SN0092817",
    "a note's phone number": "0676-5550199",
}
DATES = {
    "day first, without signs": "02051951",
    "with an ordinal": "14th of March 2026",
    "in German": "14. März 2026",
    "in French": "14 mars 2026",
    "compact, with a time": "20260314T170509",
    "seconds since 1970, by the clinic's clock": "1773504309",  # date -u -d '2026-03-14 16:05:09'
    "seconds since 1970, taken for UTC": "1773507909",
    "a time before noon and after": "5:05:09 PM",
}
"""Seconds since 1970: `date -u -d ... +%s` of GNU coreutils."""


@pytest.mark.parametrize("case", NAMES | NUMBERS | DATES)
def test_a_spelling_is_found(secrets, tmp_path, case):
    assert kinds(tmp_path, secrets, f"of: {(NAMES | NUMBERS | DATES)[case]} and\n")


HUBER, LONG = b"Ana Huber", b"Ludmilla Quastenberg"
PACKED = {
    "a gzip's own file name": b"\x1f\x8b\x08\x08\0\0\0\0\0\x03Huber.edf\0"
    + gzip.compress(b"-")[10:],
    "base 64, short": base64.b64encode(HUBER),
    "base 64 in the middle of more": base64.b64encode(b"xx" + LONG + b"yy"),
    "base 64 for addresses": base64.urlsafe_b64encode("ÿþ Ludmilla Quastenberg ÿ".encode()),
    "base 64 of a gzip": base64.b64encode(gzip.compress(HUBER)),
    "base 64 of a zip": b'{"a": "' + base64.b64encode(zipped(HUBER)) + b'"}',
    "hexadecimal": LONG.hex().encode(),
    "hexadecimal, short": HUBER.hex().upper().encode(),
    "an old DOS code page": "Jörg Müller".encode("cp850"),
    "an old Macintosh code page": "Jörg Müller".encode("mac-roman"),
    "a Windows code page of Central Europe": "Łukasz Çelik".encode("cp1250"),
    "a Cyrillic code page": "Иванова Мария".encode("cp1251"),
    "a short name among bytes": b"\0\1\2" * 9 + HUBER + b"\0\3\7" * 9,
    "a short name among bytes, as EDF writes it": b"\0\1\2" * 9 + b"Ana_Huber" + b"\0\3\7" * 9,
    "UTF-32, big end first": b"\0" * 8 + LONG.decode().encode("utf-32-be"),
    "octal escapes of a PDF": b"%PDF-1.7\n1 0 obj << /Author (H\\165ber) >> endobj",
    "ASCII 85 of a PDF": b"%PDF-1.7\n<< /Filter /ASCII85Decode >> stream\n"
    + base64.a85encode(LONG)
    + b"~>\nendstream",
    "a hexadecimal stream of a PDF": b"%PDF-1.7\nstream\n" + LONG.hex().encode() + b">\nendstream",
}


@pytest.mark.parametrize("case", PACKED)
def test_what_is_packed_is_found(secrets, tmp_path, case):
    assert kinds(tmp_path, secrets, PACKED[case]) - {"a part that can't be looked into"}


@pytest.mark.parametrize("wrapping", WRAPPINGS)
def test_a_number_in_groups_is_found_in_every_wrapping(secrets, tmp_path, wrapping):
    assert kinds(tmp_path, secrets, WRAPPINGS[wrapping](b"call +43 664 12 34 567, late"))


# First bytes as the formats' own specifications give them.
CLOSED = {
    "7z": b"7z\xbc\xaf\x27\x1c",
    "Zstandard (RFC 8878)": b"\x28\xb5\x2f\xfd",
    "RAR": b"Rar!\x1a\x07",
    "HDF5": b"\x89HDF\r\n\x1a\n",
    "LZ4 frame": b"\x04\x22\x4d\x18",
    "compound file": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
    "JPEG": b"\xff\xd8\xff\xe1",
    "OpenPGP text": b"-----BEGIN PGP MESSAGE-----",
}


@pytest.mark.parametrize("kind", CLOSED)
def test_a_format_that_the_scan_can_not_open_is_a_finding(secrets, tmp_path, kind):
    found = kinds(tmp_path, secrets, CLOSED[kind] + bytes(range(256)) * 3, "file.bin")
    assert found == {"a part that can't be looked into"}


def test_the_tests_themselves_can_fail(secrets, tmp_path):
    """What nobody is called, in each of these ways, is no finding."""
    other = codecs.encode("Ludmilla Quastenberg", "rot13")
    for number, wrap in enumerate(WRAPPINGS.values()):
        (tmp_path / f"{number}.bin").write_bytes(wrap(other.encode()))
    assert scan(tmp_path, secrets) == []
