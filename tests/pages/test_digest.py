"""The digest: complete, deterministic, codes only, its links leading somewhere."""

import datetime as dt
import json
import re
from html.parser import HTMLParser
from pathlib import PurePosixPath
from urllib.parse import unquote

import pytest
from handout_cases import cases
from pydantic import ValidationError
from samples import HOSTILE

from aftersit.clinic import Clinic, SittingId
from aftersit.pages.digest import (
    Done,
    Failed,
    Night,
    Provenance,
    Reason,
    SetAside,
    digest_folder,
    digest_html,
    done,
    write_digest,
)
from aftersit.pages.words import load_words

WORDS = load_words("en", None)
FOLDER = PurePosixPath("reports/nightly/2026-03-14")
PAGES = [f"reports/K07/03/{name}" for name in ("clinician.html", "clinician.pdf", "handout.pdf")]
PAGES.append("reports/K07/progress.html")


def night(**changes):
    data = {
        "date": "2026-03-14",
        "clinic": "Lindenhof Practice (invented)",
        "done": [
            Done(
                sitting="K07/03",
                upload="morning",
                protocols=("warm-attention v2",),
                status="scored",
                codes=("baseline-short",),
                pages=tuple(PAGES),
            )
        ],
        "set_aside": [
            SetAside(
                upload="evening 2",
                folder="set-aside/evening 2",
                reasons=(
                    Reason(
                        code="rate-too-low",
                        place="recording",
                        found="64 Hz; at least 128 Hz are needed",
                        todo="record at 128 Hz or more",
                    ),
                ),
            )
        ],
        "waiting": ["late"],
        "failed": [
            Failed(
                sitting="A11/02",
                stage="clean_recording",
                log=".aftersit/logs/A11-02",
                todo="read the log",
            )
        ],
        "to_review": ["K07/03", "M20/01"],
        "unpleasant": ["K07/03"],
    }
    return Night(**{**data, **changes})


class Page(HTMLParser):
    """Elements, links and text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.links, self.words = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, *(name for name, _ in attrs)))
        self.links += [value for name, value in attrs if name in ("href", "src")]

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


def page(**changes):
    return Page(digest_html(night(**changes), FOLDER, WORDS))


def section(text, name):
    """The text from one heading of the digest to the next line rule."""
    html = digest_html(text, FOLDER, WORDS)
    body = re.search(rf"<h2>{name}</h2>(.*?)</section>", html, re.DOTALL)[1]
    return Page(body).text


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Needs a person", ["K07/03", "call the client"]),
        ("Failed", ["A11/02", "clean the recording", "read the log"]),
        ("Set aside", ["evening 2", "64 Hz; at least 128 Hz", "rate-too-low", "record at 128 Hz"]),
        ("Waiting for review", ["K07/03", "M20/01", "aftersit release"]),
        ("Done", ["K07/03", "scored", "the baseline was short", "warm-attention v2", "morning"]),
        ("Still being copied", ["late"]),
    ],
)
def test_each_section_holds_what_belongs_there(name, expected):
    text = section(night(), name)
    assert [words for words in expected if words not in text] == []


def test_an_empty_night_says_so():
    empty = Night(date="2026-03-14", clinic="Lindenhof Practice (invented)")
    names = ("Needs a person", "Failed", "Set aside", "Waiting for review", "Done")
    assert [section(empty, name).strip() for name in names] == ["Nothing."] * 5


def test_what_may_not_be_moved_is_told_with_what_to_do():
    told = section(night(denied=["tue-0930"]), "May not be moved")
    assert told.split()[-1] == "tue-0930"
    assert "chown -R" in told
    assert "May not be moved" not in page().text


def test_a_code_without_words_is_still_shown():
    new = night().done[0].model_copy(update={"codes": ("some-newer-code",)})
    assert "some newer code" in section(night(done=[new]), "Done")


def test_an_unpleasant_experience_shows_no_more_than_the_sitting():
    text = section(night(), "Needs a person").replace(WORDS.digest.person_means, "")
    assert text.split() == ["K07/03"]


def test_the_cautions_stand_on_the_digest():
    assert all(caution in page().text for caution in WORDS.cautions)


def test_every_link_leads_to_a_file_from_where_the_page_lies(tmp_path):
    odd = "a b#c?d%41é<x>&\"'"
    clinic, aside = Clinic(tmp_path), f"set-aside/{odd}"
    made = night(
        set_aside=[SetAside(upload=odd, folder=aside, reasons=())],
        to_review=["K07/03"],
    )
    for name in (*PAGES, f"{aside}/why.txt", ".aftersit/logs/A11-02/clean.log"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x")
    folder = digest_folder(clinic, made.date)
    written = write_digest(made, clinic, folder, WORDS)
    links = Page(written.read_text(encoding="utf-8")).links
    assert len(links) == 8
    for link in links:
        assert not re.match(r"[a-z]+:|/", link), link
        assert (folder / unquote(link)).resolve().exists(), link


def test_a_clients_progress_is_linked_by_the_clients_code():
    shown = page()
    assert "../../K07/progress.html" in shown.links
    assert "client's progress K07 " in f"{shown.text} ".replace("\n", " ")


def test_hostile_names_are_shown_and_never_run():
    attacked = page(
        clinic=HOSTILE,
        waiting=[HOSTILE],
        had_already=[HOSTILE],
        set_aside=[
            SetAside(
                upload=HOSTILE,
                folder=f"set-aside/{HOSTILE}",
                reasons=(Reason(code="x", place=HOSTILE, found=HOSTILE, todo=HOSTILE),),
            )
        ],
    )
    assert {tag for tag, *_ in attacked.tags}.isdisjoint({"script", "img", "iframe"})
    assert not [a for _, *names in attacked.tags for a in names if a.startswith("on")]
    assert all(link.startswith("../../") for link in attacked.links)
    assert "<script>window.leak=1</script>" in attacked.text
    assert "{{ 7*7 }}" in attacked.text


def test_json_holds_the_night_and_reads_back(tmp_path):
    clinic, made = Clinic(tmp_path), night()
    folder = digest_folder(clinic, made.date)
    write_digest(made, clinic, folder, WORDS)
    held = json.loads((folder / "digest.json").read_text())
    assert Night.model_validate(held) == made
    assert held["set_aside"][0]["reasons"][0]["code"] == "rate-too-low"
    assert "provenance" not in held
    assert not (folder / "provenance.json").exists()


def test_the_model_is_closed():
    with pytest.raises(ValidationError, match="Extra inputs are not permitted"):
        night(note="free text")


def test_two_writings_are_the_same_bytes(tmp_path):
    clinic, written = Clinic(tmp_path), []
    for name in ("one", "two"):
        folder = tmp_path / "reports" / "nightly" / name
        write_digest(night(), clinic, folder, WORDS)
        written.append([p.read_bytes() for p in sorted(folder.iterdir())])
    assert written[0] == written[1]


TIMES = Provenance(
    started=dt.datetime(2026, 3, 14, 2, 5),
    ended=dt.datetime(2026, 3, 14, 2, 41),
    disk_free_bytes=123_456_000_000,
    disk_used_bytes=78_900_000,
)


def test_clock_and_machine_have_a_file_of_their_own(tmp_path):
    written = []
    for name, made in (("one", night()), ("two", night(provenance=TIMES))):
        folder = tmp_path / "reports" / "nightly" / name
        write_digest(made, Clinic(tmp_path), folder, WORDS)
        written.append((folder / "digest.json").read_bytes())
    assert written[0] == written[1]
    held = json.loads((folder / "provenance.json").read_text())
    assert Provenance.model_validate(held) == TIMES


def test_clock_and_machine_change_only_their_own_section():
    with_times = digest_html(night(provenance=TIMES), FOLDER, WORDS)
    shown = "On the disk, 123.5 GB are free and 79 MB used. Started 02:05, ended 02:41."
    assert shown in Page(with_times).text
    without = re.sub(
        r'<section class="part">\s*<h2>Disk and time</h2>.*?</section>', "", with_times,
        flags=re.DOTALL,
    )  # fmt: skip
    plain = digest_html(night(), FOLDER, WORDS)
    assert re.sub(r"\s+", " ", without) == re.sub(r"\s+", " ", plain)


def test_a_second_run_of_a_night_keeps_the_first_digest(tmp_path):
    clinic, date = Clinic(tmp_path), dt.date(2026, 3, 14)
    folders = []
    for _ in range(3):
        folders.append(digest_folder(clinic, date))
        write_digest(night(), clinic, folders[-1], WORDS)
    assert [f.name for f in folders] == ["2026-03-14", "2026-03-14.2", "2026-03-14.3"]


@pytest.mark.parametrize(
    ("name", "status", "codes"),
    [
        ("bouts", "scored", ("electrodes-left-out",)),
        ("eyes", "scored", ("baseline-eyes-differ", "electrodes-left-out")),
        ("not clear", "not-scored", ("too-few-electrodes", "too-few-seconds")),
        ("no rhythm", "not-scored", ("band-not-in-recording",)),
        ("no baseline", "not-scored", ("no-baseline",)),
        ("muscle, no bouts", "scored", ("reward-mostly-removed", "electrodes-left-out")),
        ("two protocols", "scored", ("electrodes-left-out", "band-not-in-recording")),
    ],
)
def test_a_finished_sitting_is_told_by_the_codes_of_its_records(name, status, codes):
    records, _ = cases()[name]
    told = done(SittingId("K07", 3), "morning", records, PAGES)
    assert (told.sitting, told.status, told.codes) == ("K07/03", status, codes)
    assert set(told.protocols) == {"warm-attention v2"}


def test_few_electrodes_say_nothing_beside_too_few():
    record = cases()["not clear"][0][0]
    first = record.conditions[0].model_copy(update={"cautions": ("few-electrodes",)})
    told = done(
        SittingId("K07", 3), "up", [record.model_copy(update={"conditions": (first,)})], PAGES
    )
    assert told.codes == ("too-few-electrodes", "too-few-seconds")


def test_what_to_run_is_printed_whole():
    page = Page(digest_html(night(), FOLDER, WORDS))
    assert "scripts/aftersit retry 'evening 2' --clinic FOLDER" in page.text
    assert "scripts/aftersit release M20/01 --reviewer CODE --clinic FOLDER" in page.text
    assert "UPLOAD" not in page.text


def test_unscored_sittings_come_first_and_are_counted():
    told = {"upload": "u", "protocols": ("a v1",)}
    sittings = [
        Done(sitting="A11/01", status="scored", **told),
        Done(sitting="B22/01", status="scored", codes=("baseline-short",), **told),
        Done(sitting="C33/01", status="not-scored", codes=("no-baseline",), **told),
    ]
    page = Page(digest_html(night(done=sittings), FOLDER, WORDS)).text
    assert page.index("C33/01") < page.index("B22/01") < page.index("A11/01")
    assert "Could not be scored 1 " in re.sub(r"\s+", " ", page)


def test_the_digest_speaks_the_clinics_language():
    german = digest_html(night(), FOLDER, load_words("de", None))
    assert "Nacht vom 14. März 2026" in german
    assert "die Ruhezeit war kurz" in german
