"""Archive: the bag for a partner, research ids, dates and groups of people."""

import datetime as dt
import hashlib
import random
from pathlib import Path

from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, between, both, near, same

HERE = ("aftersit.archive",)
FIRST = dt.datetime(2026, 2, 27, 17, 0)


def bag(given: Given) -> Path:
    """A small bag with a payload in two folders."""
    from aftersit.archive.bag import make_bag

    folder = given.new_folder()
    (folder / "a").mkdir()
    (folder / "a" / "one.tsv").write_text("onset\tduration\n0.5\t2\n")
    (folder / "two.txt").write_bytes(bytes(range(256)) * 3)
    make_bag(folder, {"Source-Organization": "Invented clinic"})
    return folder


@check(
    "archive", "bag-declaration", "A bag declares its version and encoding in two lines", needs=HERE
)
def bag_declaration(given: Given, fact: Fact) -> Result:
    return same((bag(given) / "bagit.txt").read_bytes().decode(), fact["text"])


@check("archive", "bag-manifests", "Manifests list every file once, with its SHA-512", needs=HERE)
def bag_manifests(given: Given, fact: Fact) -> Result:
    folder = bag(given)
    found, expected = {}, {}
    for name in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
        rows = [line.split(maxsplit=1) for line in (folder / name).read_text().splitlines()]
        found |= {path: digest for digest, path in rows}
    for path in folder.rglob("*"):
        told = str(path.relative_to(folder))
        if path.is_file() and not told.startswith("tagmanifest"):
            expected[told] = hashlib.sha512(path.read_bytes()).hexdigest()
    wrong = sorted(p for p in found.keys() | expected.keys() if found.get(p) != expected.get(p))
    return near([len(found), len(wrong)], [fact["files"], 0], unit="files, wrong ones")


@check("archive", "bag-oxum", "The bag tells its bytes and files", needs=HERE)
def bag_oxum(given: Given, fact: Fact) -> Result:
    folder = bag(given)
    lines = dict(line.split(": ") for line in (folder / "bag-info.txt").read_text().splitlines())
    return same(lines.get("Payload-Oxum"), fact["oxum"], number=True)


@check(
    "archive", "bag-broken", "One byte, a file more or a file less makes a bag invalid", needs=HERE
)
def bag_broken(given: Given, fact: Fact) -> Result:
    found = []
    for change in (_nothing, _one_byte, _one_more, _one_less):
        folder = bag(given)
        change(folder / "data")
        found.append(_is_valid(folder))
    return same(found, [True, False, False, False])


def _is_valid(folder: Path) -> bool:
    import logging

    import bagit

    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    return bagit.Bag(str(folder)).is_valid()


def _nothing(data: Path) -> None:
    """As it was made."""


def _one_byte(data: Path) -> None:
    content = bytearray((data / "two.txt").read_bytes())
    content[77] ^= 4
    (data / "two.txt").write_bytes(bytes(content))


def _one_more(data: Path) -> None:
    (data / "three.txt").write_text("more")


def _one_less(data: Path) -> None:
    (data / "a" / "one.tsv").unlink()


@check(
    "archive",
    "shifted-dates",
    "Shifted dates lie in 1902-1925, and days between them stay",
    needs=HERE,
)
def shifted_dates(given: Given, fact: Fact) -> Result:
    from aftersit.archive.dates import day_number, shifted
    from aftersit.archive.ids import _drawn

    days = (0, 3, 31, 400)
    shift = _drawn(random.Random(29), FIRST.date(), ()).shift_days
    moved = [shifted(FIRST + dt.timedelta(days=d), shift) for d in days]
    if None in moved:
        return same("a date outside", "dates in 1902-1925")
    apart = [day_number(m.date(), moved[0].date()) - 1 for m in moved]
    low, high = fact["years"]
    return both(between([m.year for m in moved], low, high), near(apart, days, unit="days"))


@check("archive", "old-ages", "Ages over 89 can't be told apart", needs=HERE)
def old_ages(given: Given, fact: Fact) -> Result:
    from aftersit.archive.groups import age_group

    return same(len({age_group(str(age)) for age in fact["alike"]}), 1, number=True)


@check("archive", "small-groups", "Traits that fewer than k people share are named", needs=HERE)
def small_groups(given: Given, fact: Fact) -> Result:
    from aftersit.archive import groups

    people = [
        groups.Person(f"P{n}", age, "female", "right", ("compassion",))
        for n, age in enumerate(fact["age_groups"])
    ]
    found = {traits[0]: n for traits, n in groups.small_groups(people, fact["k"])}
    return same(found, fact["too_few"], number=True)
