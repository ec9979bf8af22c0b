"""Ways in which a text can lie in a file: packed, escaped, among samples."""

import base64
import bz2
import gzip
import io
import json
import lzma
import tarfile
import zipfile
import zlib

import numpy as np


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
