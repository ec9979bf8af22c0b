"""Electrode labels: from what recorders write to standard names and channel types."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

from aftersit.plain_yaml import load_plain_yaml

TABLE = Path(__file__).parents[2] / "shared" / "electrodes.yaml"

ChannelType = Literal["EEG", "ECG", "EOG", "EMG", "TRIG", "EAR", "MISC"]


@dataclass(frozen=True)
class Label:
    """What one label says.

    `name` is the 10-10 name of an electrode; for every other type the label
    without its clutter. `reference` is what stands behind the hyphen: an
    electrode's standard name or a key of `common_references`.
    """

    label: str
    name: str
    kind: ChannelType
    reference: str | None = None

    @property
    def is_pair(self) -> bool:
        """An electrode measured against another scalp electrode."""
        return self.kind == "EEG" and self.reference in ten_ten()


@dataclass(frozen=True)
class LabelProblem:
    """Why a recording's labels can't serve; `labels` are the ones meant."""

    code: Literal[
        "old-and-new-name", "electrode-twice", "bipolar", "ear-by-side", "mixed-reference"
    ]
    labels: tuple[str, ...]


@dataclass(frozen=True)
class Montage:
    """What a recording's labels say together."""

    channels: tuple[Label, ...]
    reference: str | None
    problems: tuple[LabelProblem, ...]

    @property
    def electrodes(self) -> list[str]:
        """Names of the standard electrodes that the recording holds, in standard order."""
        present = {c.name for c in self.channels if c.kind == "EEG"}
        return [name for name in STANDARD_19 if name in present]


@cache
def _table() -> dict:
    return load_plain_yaml(TABLE)


@cache
def ten_ten() -> frozenset[str]:
    """All names of the 10-10 system."""
    return frozenset(name for row in _table()["ten_ten"] for name in row)


@cache
def _names() -> dict[str, str]:
    """Lower-case label of an electrode or ear, old or new -> standard name."""
    names = {name.lower(): name for name in sorted(ten_ten() | set(_table()["ears"]))}
    return names | {old.lower(): new for old, new in _table()["old_names"].items()}


@cache
def _other_patterns() -> tuple[tuple[str, re.Pattern], ...]:
    rows = _table()["other_channels"]
    return tuple((row["type"], re.compile(row["pattern"], re.IGNORECASE)) for row in rows)


STANDARD_19: tuple[str, ...] = tuple(_table()["standard"])
"""The 19 electrodes of the 10-20 system, front to back, left to right."""


LARGER_64: tuple[str, ...] = tuple(name for row in _table()["larger"] for name in row)
"""A larger cap, for comparison."""


def reference_in_words(reference: str | None) -> str:
    """A reference as BIDS sidecars write it; `n/a` when the labels name none."""
    if reference is None:
        return "n/a"
    if reference in _table()["ears"]:
        return f"{reference} ({_table()['ears'][reference]} ear)"
    return _table()["common_references"].get(reference, reference)


def references_in_words() -> frozenset[str]:
    """Everything that `reference_in_words` may say."""
    known = (None, *_table()["ears"], *_table()["common_references"])
    return frozenset(map(reference_in_words, known))


def read_label(label: str) -> Label:
    """Read one label without looking at the others.

    Examples
    --------
    >>> read_label("EEG T3-REF")
    Label(label='EEG T3-REF', name='T7', kind='EEG', reference='REF')
    >>> read_label("Fc5.").name
    'FC5'
    """
    bare = label.strip().rstrip(".").strip()
    for kind, pattern in _other_patterns():
        if pattern.fullmatch(bare):
            return Label(label, bare, kind)
    name, reference = _split(_without_prefix(bare))
    if name is None:
        return Label(label, bare, "MISC")
    if name not in _table()["ears"]:
        return Label(label, name, "EEG", reference)
    pair = reference in _table()["ears"]
    return Label(label, f"{name}-{reference}" if pair else name, "MISC" if pair else "EAR")


def _without_prefix(bare: str) -> str:
    prefixes = "|".join(_table()["prefixes"])
    return re.sub(rf"^(?:{prefixes})(?:[\s_:-]+|(?=[A-Za-z]))", "", bare, flags=re.IGNORECASE)


def _split(text: str) -> tuple[str | None, str | None]:
    """Electrode and reference; (None, None) unless both are understood."""
    first, separator, second = text.partition("-")
    name = _names().get(first.strip(" .").lower())
    if name is None or not separator:
        return name, None
    suffix = second.strip(" .")
    reference = _names().get(suffix.lower())
    if reference is None and suffix.upper() in _table()["common_references"]:
        reference = suffix.upper()
    return (name, reference) if reference else (None, None)


def read_labels(labels: Sequence[str], enough: int) -> Montage:
    """Read a recording's labels together.

    Parameters
    ----------
    labels : sequence of str
        One for each channel.
    enough : int
        With this many standard electrodes outside bipolar pairs, pairs are
        extra channels (type MISC); with fewer, they are the recording.

    Returns
    -------
    Montage
        One entry for each label, in the same order; the common reference when
        the labels name one; and what makes the recording unfit.
    """
    channels = tuple(read_label(label) for label in labels)
    pairs = _pairs(channels)
    channels = tuple(_as_extra(c) if c in pairs else c for c in channels)
    montage = Montage(channels, None, ())
    problems = _doubled(channels)
    if pairs and len(montage.electrodes) < enough:
        problems.append(LabelProblem("bipolar", tuple(c.label for c in pairs)))
    reference, wrong = _common_reference(channels)
    problems += wrong
    return replace(montage, reference=reference, problems=tuple(problems))


def _pairs(channels: Iterable[Label]) -> list[Label]:
    """Bipolar pairs: electrode against electrode, unless all share one reference electrode."""
    electrodes = [c for c in channels if c.kind == "EEG"]
    pairs = [c for c in electrodes if c.is_pair]
    common = len(pairs) == len(electrodes) and len({c.reference for c in pairs}) == 1
    return [] if common and len(pairs) > 1 else pairs


def _as_extra(pair: Label) -> Label:
    return replace(pair, name=f"{pair.name}-{pair.reference}", kind="MISC", reference=None)


def _doubled(channels: Iterable[Label]) -> list[LabelProblem]:
    electrodes = [c for c in channels if c.kind == "EEG"]
    problems = []
    for name, count in sorted(Counter(c.name for c in electrodes).items()):
        if count > 1:
            labels = tuple(c.label for c in electrodes if c.name == name)
            both = len({_is_old_name(label) for label in labels}) > 1
            problems.append(LabelProblem("old-and-new-name" if both else "electrode-twice", labels))
    return problems


def _is_old_name(label: str) -> bool:
    first = _without_prefix(label.strip()).partition("-")[0].strip(" .").upper()
    return first in _table()["old_names"]


def _common_reference(channels: Iterable[Label]) -> tuple[str | None, list[LabelProblem]]:
    """The one reference that the electrodes share, or why there is none."""
    electrodes = [c for c in channels if c.kind == "EEG"]
    named = {c.reference for c in electrodes}
    ears = sorted(named & set(_table()["ears"]))
    if len(ears) > 1:
        labels = tuple(c.label for c in electrodes if c.reference in ears)
        return None, [LabelProblem("ear-by-side", labels)]
    if len(named) > 1:
        rarest = Counter(c.reference for c in electrodes).most_common()[-1][0]
        labels = tuple(c.label for c in electrodes if c.reference == rarest)
        return None, [LabelProblem("mixed-reference", labels)]
    return (named.pop() if named else None), []
