"""The progress page: what it may say, what it compares, and nothing of another client."""

import json
from dataclasses import replace

import pytest
import sample_progress
import samples
from hostile import LONG, hostile_clinic
from sample_given import PROTOCOL, protocol
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.client_pages import made_from, own_texts, progress_pages, told
from aftersit.night.plan import PlannedSitting
from aftersit.pages import progress_inputs
from aftersit.pages.answers_progress import details, lead
from aftersit.pages.counted import LEFT_OUT_AT_MOST, usual_electrodes, why_not_counted
from aftersit.pages.progress import Progress
from aftersit.pages.progress_inputs import read_progress
from aftersit.pages.words import load_words

CAUTIONS = load_words("en").cautions


def page(inputs):
    return Progress(inputs, CAUTIONS)


@pytest.mark.parametrize("n", [1, 2, 4])
def test_it_says_when_it_is_too_early_to_tell(n):
    said = lead(sample_progress.course(sample_progress.SHARES[:n]))
    assert said.startswith("Too early to tell")
    assert "at least 5" in said


def test_a_course_is_a_change_and_not_a_cause():
    said = lead(sample_progress.course())
    assert said.startswith("Time in target rose over 6 sittings")
    assert said.endswith("That is a change, not its cause.")
    assert "no clear direction" in lead(sample_progress.course((0.3, 0.2, 0.34, 0.18, 0.3)))


def test_what_can_not_be_compared_is_shown_with_its_reason():
    inputs = sample_progress.mixed()
    assert [s.why_not for s in inputs.sittings] == [
        None, "not-scored", "electrodes-differ", None,
    ]  # fmt: skip
    text = " ".join(details(inputs))
    assert "Sitting 02 is shown and not compared: it could not be scored." in text
    assert "Sitting 03 is shown and not compared: too many of its good electrodes" in text
    assert "In sitting 04 a threshold set itself" in text
    assert "The practices differ (compassion and open monitoring)" in text


def test_the_rule_on_electrodes_counts_those_that_differ():
    record = samples.scored().replays[0].record
    good = record.quality.good_electrodes
    usual = usual_electrodes([record, record])
    for less in range(1, 5):
        quality = record.quality.model_copy(update={"good_electrodes": good[less:]})
        why = why_not_counted(record.model_copy(update={"quality": quality}), usual)
        assert why == (None if less <= LEFT_OUT_AT_MOST else "electrodes-differ")


def test_the_usual_set_is_that_of_most_sittings():
    record = samples.scored().replays[0].record
    quality = record.quality.model_copy(update={"good_electrodes": ("Cz", "Pz")})
    odd = record.model_copy(update={"quality": quality})
    assert usual_electrodes([odd, record, record]) == set(record.quality.good_electrodes)
    assert usual_electrodes([odd, record]) == {"Cz", "Pz"}


def test_the_page_holds_numbers_thresholds_quality_practice_and_cautions():
    html = page(sample_progress.mixed()).html()
    for words in (
        "12\xa0% (5 to 21\xa0%)", "Thresholds as set", "a threshold that moves until it is met",
        "open monitoring", "F8 and P7", "above the baseline&#39;s mean +1.0\xa0dB",
    ):  # fmt: skip
        assert words in html, words
    for caution in CAUTIONS:
        assert caution in html


def test_nothing_that_people_write_gets_out_of_its_place():
    used = protocol(**{**PROTOCOL, "title": LONG[:80], "purpose": LONG[:600]})
    html = page(sample_progress.course(clinic=hostile_clinic(), used=used)).html()
    assert "<script>leak" not in html
    assert "<iframe" not in html


def test_the_same_sittings_give_the_same_bytes(tmp_path):
    for name in ("one", "two"):
        page(sample_progress.mixed()).write(tmp_path / name / "progress.html")
    files = [sorted((tmp_path / name).iterdir()) for name in ("one", "two")]
    assert [f.name for f in files[0]] == ["progress.html", "progress.json", "progress.pdf"]
    assert [f.read_bytes() for f in files[0]] == [f.read_bytes() for f in files[1]]


def test_sittings_of_another_client_are_refused(tmp_path):
    one = PlannedSitting(
        client="M12",
        number=1,
        revision=1,
        date="2026-02-05",
        protocols={"x": 1},
        settings="s1",
        received_settings="s1",
    )
    with pytest.raises(AftersitError, match="sittings of K07, and of nobody else"):
        read_progress(Clinic(tmp_path), "K07", [one], ("x", 1))


def test_a_sitting_that_came_late_stands_where_its_date_is(tmp_path, monkeypatch):
    """What is read of each is left out here."""
    record = samples.scored().replays[0].record
    found = sample_progress.course().protocol
    monkeypatch.setattr(progress_inputs, "load_protocol", lambda *_: found)
    monkeypatch.setattr(progress_inputs, "_read", lambda clinic, one, _: (record, one.number))
    monkeypatch.setattr(progress_inputs, "_sitting", lambda clinic, one, *found: (one, found[1]))
    make_clinic(tmp_path / "clinic")
    same = {"client": "K07", "revision": 1, "settings": "s1", "received_settings": "s1"}
    planned = [
        PlannedSitting(number=n, date=date, protocols={"x": 1}, **same)
        for n, date in ((3, "2026-03-05"), (4, "2026-01-05"), (5, "2026-02-09"))
    ]
    read = read_progress(Clinic(tmp_path / "clinic"), "K07", planned, ("x", 1)).sittings
    assert [(one.number, number) for one, number in read] == [(4, 4), (5, 5), (3, 3)]


def test_what_a_page_is_made_from_is_known_again(tmp_path):
    clinic, inputs = Clinic(tmp_path), sample_progress.course()
    assert told(clinic, "K07") is None
    page(inputs).write(tmp_path / progress_pages("K07")[0])
    assert told(clinic, "K07") == ([(s.number, 1, "s1") for s in inputs.sittings], {})
    numbers = tmp_path / progress_pages("K07")[2]
    shares = [s["in_target_share"] for s in json.loads(numbers.read_text())["sittings"]]
    assert shares == list(sample_progress.SHARES)
    numbers.write_text("{}")
    assert told(clinic, "K07") is None


def test_other_words_of_the_clinic_make_a_page_outdated(tmp_path):
    clinic, inputs = Clinic(tmp_path), sample_progress.course()
    clinic.settings_file.write_text("name: A clinic\n")
    same = {"client": "K07", "revision": 1, "settings": "s1", "received_settings": "s1"}
    planned = [
        PlannedSitting(number=s.number, date=s.date, protocols={"x": 1}, **same)
        for s in inputs.sittings
    ]
    written = replace(inputs, own_texts=own_texts(clinic))
    page(written).write(tmp_path / progress_pages("K07")[0])
    assert told(clinic, "K07") == made_from(clinic, planned)
    (tmp_path / "words.yaml").write_text("cautions: [Own words.]\n")
    assert told(clinic, "K07") != made_from(clinic, planned)
    (tmp_path / "words.yaml").unlink()
    clinic.settings_file.write_text("name: Another name\n")
    assert told(clinic, "K07") != made_from(clinic, planned)
