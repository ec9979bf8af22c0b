"""A handout counts as reviewed only while what was reviewed still stands."""

import datetime as dt
import json

import pytest

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.pages.review import Reviewed, release, review_path, reviewed, reviewed_or_none

SITTING = SittingId("K07", 3)
DAY = dt.date(2026, 3, 16)


@pytest.fixture
def clinic(tmp_path):
    for name in ("record.json", "other.json", "sitting.yaml"):
        (tmp_path / name).write_text(f"first {name}")
    return Clinic(tmp_path)


def made_from(clinic, *names):
    return [clinic.root / name for name in names or ("record.json", "sitting.yaml")]


def test_a_release_is_kept_with_reviewer_date_and_checksums(clinic):
    path = release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    assert path == clinic.root / ".aftersit/reviews/K07-03.json"
    held = json.loads(path.read_text())
    assert (held["reviewer"], held["date"]) == ("DR2", "2026-03-16")
    # printf 'first record.json' | sha256sum
    assert held["made_from"]["record.json"] == (
        "adaa7d675380bdfa92662545545b9c11d62b11633e9b2d1e02a6c14fa5f0940f"
    )
    assert reviewed(clinic, SITTING, made_from(clinic)) == Reviewed("DR2", DAY)


def test_nothing_is_reviewed_before_a_release(clinic):
    assert reviewed(clinic, SITTING, made_from(clinic)) is None


@pytest.mark.parametrize("name", ["record.json", "sitting.yaml"])
def test_a_changed_file_undoes_the_review(clinic, name):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    (clinic.root / name).write_text("second")
    assert reviewed(clinic, SITTING, made_from(clinic)) is None
    (clinic.root / name).write_text(f"first {name}")
    assert reviewed(clinic, SITTING, made_from(clinic)) == Reviewed("DR2", DAY)


def test_a_further_record_or_one_less_undoes_the_review(clinic):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    more = made_from(clinic, "record.json", "other.json", "sitting.yaml")
    assert reviewed(clinic, SITTING, more) is None
    assert reviewed(clinic, SITTING, made_from(clinic, "record.json")) is None


def test_the_order_of_the_files_does_not_matter(clinic):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    assert reviewed(clinic, SITTING, made_from(clinic)[::-1]) == Reviewed("DR2", DAY)


def test_two_records_with_swapped_contents_are_not_what_was_reviewed(clinic):
    both = made_from(clinic, "record.json", "other.json")
    release(clinic, SITTING, "DR2", both, DAY)
    one, two = (path.read_text() for path in both)
    both[0].write_text(two)
    both[1].write_text(one)
    assert reviewed(clinic, SITTING, both) is None


def test_a_missing_record_is_not_reviewed(clinic):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    (clinic.root / "record.json").unlink()
    assert reviewed(clinic, SITTING, made_from(clinic)) is None


def test_another_sitting_is_not_reviewed(clinic):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    assert reviewed(clinic, SittingId("K07", 4), made_from(clinic)) is None


def test_a_second_release_replaces_the_first(clinic):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    release(clinic, SITTING, "QX7", made_from(clinic), DAY + dt.timedelta(days=3))
    assert reviewed(clinic, SITTING, made_from(clinic)) == Reviewed("QX7", dt.date(2026, 3, 19))


@pytest.mark.parametrize("code", ["", "D", "Dr. Two", "D" * 17, "DR2\n", "../x", "Ärztin"])
def test_a_reviewer_gives_a_code(clinic, code):
    with pytest.raises(AftersitError, match="is no reviewer's code; it has 2 to 16 letters"):
        release(clinic, SITTING, code, made_from(clinic), DAY)
    assert not review_path(clinic, SITTING).exists()


@pytest.mark.parametrize("names", [("record.json", "absent.json"), None])
def test_there_must_be_something_to_review(clinic, names):
    files = made_from(clinic, *names) if names else []
    with pytest.raises(AftersitError, match="K07/03 has no result to review yet; run `nightly`"):
        release(clinic, SITTING, "DR2", files, DAY)


@pytest.mark.parametrize("text", ["", "{}", '{"reviewer": "DR2"}', "not json"])
def test_a_damaged_review_says_what_to_do(clinic, text):
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    review_path(clinic, SITTING).write_text(text)
    with pytest.raises(
        AftersitError, match="K07/03 is damaged; release it again: scripts/aftersit release"
    ):
        reviewed(clinic, SITTING, made_from(clinic))
    assert reviewed_or_none(clinic, SITTING, made_from(clinic)) is None


def test_an_undamaged_review_is_told_either_way(clinic):
    assert reviewed_or_none(clinic, SITTING, made_from(clinic)) is None
    release(clinic, SITTING, "DR2", made_from(clinic), DAY)
    assert reviewed_or_none(clinic, SITTING, made_from(clinic)) == Reviewed("DR2", DAY)
