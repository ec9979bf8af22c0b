"""Valid uploads of each format, spoilt at random: bytes flipped, cut out and put in."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import bad_uploads as make
import numpy as np

FORMATS = {
    "edf": make.file(make.good_edf(7, start=None)),
    "edf+": make.file(
        make.good_edf(8, annotations=[(2.5, 10.0, "practising"), (20.25, None, "tone on")]),
        blocks="from-annotations",
    ),
    "bdf": make.file(make.good_edf(9, bdf=True), "rec.bdf"),
    "brainvision": make.brainvision(10),
    "fif": make.fif(11),
}
_HEAD_BYTES = 8000
"""Most changes fall here, where each byte means something."""


@dataclass(frozen=True)
class Spoilt:
    """Which format, and the seed of what is done to it."""

    form: str
    seed: int

    @property
    def name(self) -> str:
        return f"{self.form}-{self.seed}"


def all_spoilt(count: int, first: int = 0) -> list[Spoilt]:
    """Each format in turn."""
    forms = list(FORMATS)
    return [Spoilt(forms[n % len(forms)], n) for n in range(first, first + count)]


def make_valid(folder: Path) -> dict[str, Path]:
    """One valid upload of each format."""
    for form, write in FORMATS.items():
        (folder / form).mkdir(parents=True)
        write(folder / form)
    return {form: folder / form for form in FORMATS}


def spoil(valid: Path, one: Spoilt, target: Path) -> None:
    """A copy of a valid upload in which one file, sometimes the sheet, is spoilt."""
    shutil.copytree(valid, target)
    rng = np.random.default_rng([20260314, one.seed])
    files = sorted(target.iterdir())
    sheet = target / "sitting.yaml"
    recording = [f for f in files if f != sheet]
    chosen = sheet if rng.random() < 0.2 else recording[rng.integers(len(recording))]
    data = chosen.read_bytes()
    for _ in range(1 + rng.poisson(1.0)):
        data = _spoil(data, rng)
    chosen.write_bytes(data)


def _spoil(data: bytes, rng: np.random.Generator) -> bytes:
    reach = min(len(data), _HEAD_BYTES) if rng.random() < 0.7 else len(data)
    at = int(rng.integers(reach)) if reach else 0
    way = rng.integers(4)
    if way == 0:  # one bit
        return (
            data[:at] + bytes([data[at] ^ (1 << rng.integers(8))]) + data[at + 1 :] if data else b""
        )
    if way == 1:  # some bytes anew, at times digits: they keep a header readable
        text = rng.random() < 0.5
        new = rng.integers(48, 58, 6) if text else rng.integers(0, 256, rng.integers(1, 40))
        return data[:at] + bytes(new.astype(np.uint8)) + data[at + len(new) :]
    length = int(rng.choice([1, 2, 7, 256, 4096, len(data)]))
    if way == 2:
        return data[:at] + data[at + length :]
    put_in = data[at : at + length] if rng.random() < 0.5 else rng.bytes(min(length, 5000))
    return data[:at] + put_in + data[at:]
