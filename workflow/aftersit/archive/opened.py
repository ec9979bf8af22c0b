"""Look into files: compressed members, streams, chunks and arrays, one after the other."""

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

_DEEPEST = 6
_LARGEST = 1 << 31
"""Bytes of one opened member: the signal of a long sitting has a tenth of it."""
_PDF_STREAM = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)
_PNG = b"\x89PNG\r\n\x1a\n"


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
    return _tar if data[257:262] == b"ustar" else None


def _gzip(data: bytes) -> Iterator[tuple[str, bytes]]:
    yield "gz", gzip.decompress(data)


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
        try:
            yield f"stream {number}", zlib.decompressobj().decompress(found[1])
        except zlib.error:
            yield f"stream {number}", found[1]
    # Text strings of metadata and bookmarks may be UTF-16 in hexadecimal.
    for number, found in enumerate(re.finditer(rb"<([0-9A-Fa-f\s]{8,})>", data), 1):
        digits = re.sub(rb"\s", b"", found[1])
        yield f"string {number}", bytes.fromhex(digits[: len(digits) // 2 * 2].decode())


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
    b"\x1f\x8b": _gzip,
    b"BZh": _bz2,
    b"\xfd7zXZ\0": _xz,
    b"PK\x03\x04": _zip,
    b"PK\x05\x06": _zip,
    b"%PDF": _pdf,
    _PNG: _png,
    b"\x93NUMPY": _npy,
}
