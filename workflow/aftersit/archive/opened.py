"""Look into files: compressed members, streams, chunks and arrays, one after the other."""

import base64
import binascii
import bz2
import gzip
import io
import lzma
import re
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from aftersit.archive.textviews import packed

_DEEPEST = 6
_LARGEST = 1 << 31
"""Bytes of one opened member: the signal of a long sitting has a tenth of it."""
_PDF_STREAM = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)
_PNG = b"\x89PNG\r\n\x1a\n"
_BZ2_BLOCKS = (b"1AY&SY", b"\x17\x72\x45\x38\x50\x90")
"""How a packed block and the end of an empty file begin."""
_CLOSED = (
    *(b"7z\xbc\xaf\x27\x1c", b"\x28\xb5\x2f\xfd", b"Rar!\x1a\x07", b"\x89HDF\r\n\x1a\n"),
    *(b"\x04\x22\x4d\x18", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"\xff\xd8\xff"),
    *(b"-----BEGIN PGP", b"II*\0", b"MM\0*", b"GIF8", b"OggS"),
)
"""How 7z, Zstandard, RAR, HDF5, LZ4, compound files, JPEG, OpenPGP, TIFF, GIF and Ogg begin: the
scan can't look into them, and no bag holds one."""


class UnreadableError(Exception):
    """A member that can't be looked into."""


@dataclass(frozen=True)
class Part:
    """Bytes, and where they come from: `a.npz > good.npy`."""

    where: str
    data: bytes


def opened(part: Part, depth: int = 0) -> Iterator[Part]:
    """The part itself and everything inside it.

    Raises
    ------
    UnreadableError
        Something is encrypted, damaged, nested too deep or too large.
    """
    yield part
    if part.data.startswith(_CLOSED):
        raise UnreadableError(part.where)
    opener = _opener(part.data)
    if opener is None:
        return
    if depth == _DEEPEST:
        raise UnreadableError(part.where)
    try:
        for name, data in opener(part.data):
            if len(data) > _LARGEST:
                raise UnreadableError(part.where)
            yield from opened(Part(f"{part.where} > {name}", data), depth + 1)
    except (OSError, EOFError, RuntimeError, ValueError, zlib.error, lzma.LZMAError) as error:
        raise UnreadableError(part.where) from error
    except (zipfile.BadZipFile, tarfile.TarError) as error:
        raise UnreadableError(part.where) from error


Opener = Callable[[bytes], Iterator[tuple[str, bytes]]]


def _opener(data: bytes) -> Opener | None:
    for start, opener in _OPENERS.items():
        if data.startswith(start):
            return opener
    if data[257:262] == b"ustar":
        return _tar
    return _base64 if any(map(_opens, packed(data))) else None


def _opens(data: bytes) -> bool:
    return data.startswith((*_OPENERS, *_CLOSED))


def _base64(data: bytes) -> Iterator[tuple[str, bytes]]:
    yield from (("base 64", inner) for inner in packed(data) if _opens(inner))


def _gzip(data: bytes) -> Iterator[tuple[str, bytes]]:
    yield "gz", gzip.decompress(data)
    # Name and comment stand before what is packed (RFC 1952, section 2.3); in short bytes only
    # long runs of letters are read.
    yield "head", data[10:500].replace(b"\0", b"\n" + b" " * 30 + b"\n")


def _bz2(data: bytes) -> Iterator[tuple[str, bytes]]:
    yield "bz2", bz2.decompress(data)


def _xz(data: bytes) -> Iterator[tuple[str, bytes]]:
    yield "xz", lzma.decompress(data)


def _zip(data: bytes) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        yield "comment", archive.comment
        for info in archive.infolist():
            yield "name", info.filename.encode()
            yield "comment", info.comment + b"\n" + info.extra
            yield info.filename, archive.read(info)


def _tar(data: bytes) -> Iterator[tuple[str, bytes]]:
    with tarfile.open(fileobj=io.BytesIO(data)) as archive:
        for member in archive:
            yield "name", f"{member.name} {member.uname} {member.gname}".encode()
            if member.isfile():
                yield member.name, archive.extractfile(member).read()


def _pdf(data: bytes) -> Iterator[tuple[str, bytes]]:
    for number, found in enumerate(_PDF_STREAM.finditer(data), 1):
        yield f"stream {number}", _pdf_stream(found[1])
    yield "octal", re.sub(rb"\\([0-7]{3})", lambda m: bytes([int(m[1], 8) & 255]), data[4:])
    # Text strings of metadata and bookmarks may be UTF-16 in hexadecimal.
    for number, found in enumerate(re.finditer(rb"<([0-9A-Fa-f\s]{8,})>", data), 1):
        digits = re.sub(rb"\s", b"", found[1])
        yield f"string {number}", bytes.fromhex(digits[: len(digits) // 2 * 2].decode())


def _pdf_stream(data: bytes) -> bytes:
    """Unpacked by the filters of ISO 32000-1, section 7.4, that pack text."""
    for unpack in (_ascii_85, _hexadecimal):
        data = unpack(data)
    try:
        return zlib.decompressobj().decompress(data)
    except zlib.error:
        return data


def _ascii_85(data: bytes) -> bytes:
    try:
        return base64.a85decode(data.strip().removesuffix(b"~>")) if b"~>" in data[-5:] else data
    except ValueError:
        return data


def _hexadecimal(data: bytes) -> bytes:
    try:
        return binascii.unhexlify(re.sub(rb"\s", b"", data).removesuffix(b">"))
    except binascii.Error:
        return data


def _png(data: bytes) -> Iterator[tuple[str, bytes]]:
    at = len(_PNG)
    while at + 8 <= len(data):
        size, kind = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + size]
        at += 12 + size
        if kind in (b"zTXt", b"iCCP"):
            name, _, packed = body.partition(b"\0")
            yield "text", name + b"\n" + zlib.decompress(packed[1:])
        elif kind == b"iTXt":
            yield "text", _itxt(body)
        elif kind not in (b"IDAT", b"IHDR", b"PLTE"):
            yield "chunk", body.replace(b"\0", b"\n") if kind == b"tEXt" else body


def _itxt(body: bytes) -> bytes:
    key, _, rest = body.partition(b"\0")
    _language, _, texts = rest[2:].partition(b"\0")
    translated, _, text = texts.partition(b"\0")
    text = zlib.decompress(text) if rest[:1] == b"\1" else text
    return b"\n".join((key, translated, text))


def _npy(data: bytes) -> Iterator[tuple[str, bytes]]:
    array = np.load(io.BytesIO(data), allow_pickle=False)  # ValueError for pickled objects
    for name in array.dtype.names or ():
        yield "field", name.encode()
    if array.dtype.kind in "US":
        yield "texts", "\n".join(map(_plain, array.ravel().tolist())).encode()


def _plain(value: str | bytes) -> str:
    return value.decode("latin-1") if isinstance(value, bytes) else value


_OPENERS: dict[bytes, Opener] = {
    **{b"\x1f\x8b\x08" + bytes([flags]): _gzip for flags in range(32)},
    **{b"BZh%d" % size + start: _bz2 for size in range(1, 10) for start in _BZ2_BLOCKS},
    b"\xfd7zXZ\0": _xz,
    b"PK\x03\x04": _zip,
    b"PK\x05\x06": _zip,
    b"%PDF": _pdf,
    _PNG: _png,
    b"\x93NUMPY": _npy,
}
