"""The page: one sheet, tagged, the same bytes, safe against what people write."""

import datetime as dt
import re
import zlib
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from handout_cases import cases, scored
from sample_given import CLINIC, quality, sheet
from samples import HOSTILE

from aftersit.clinic import Clinic, ClinicSettings, SittingId
from aftersit.files import write_atomically
from aftersit.pages.handout import (
    FITS,
    HandoutInputs,
    handout_html,
    shortened,
    write_handout,
)
from aftersit.pages.picture import WIDTH, picture
from aftersit.pages.review import Reviewed, answered_for, release, reviewed
from aftersit.pages.words import clinic_words, load_words

CASES = cases()
SITTING = SittingId("K07", 3)
DAY = dt.date(2026, 3, 14)
SHALOM = "\u05e9\u05dc\u05d5\u05dd, \u05ea\u05d5\u05d3\u05d4! "


def inputs(records=None, told=None, clinic=None, language="en", review=None):
    settings = ClinicSettings.checked({**CLINIC, "language": language, **(clinic or {})}, "clinic")
    return HandoutInputs(
        sitting=SITTING,
        date=DAY,
        records=tuple(records or [scored()]),
        sheet=told or sheet(),
        clinic=settings,
        words=load_words(language, None),
        review=review,
    )


def html(*args, **kwargs):
    return handout_html(inputs(*args, **kwargs), *FITS[0])


def written(tmp_path, *args, **kwargs):
    path = tmp_path / "handout.pdf"
    write_handout(inputs(*args, **kwargs), path)
    return path.read_bytes()


def pdf_objects(pdf):
    """A PDF's objects as bytes: its own and those in compressed streams."""
    parts = [pdf]
    for match in re.finditer(rb"stream\r?\n", pdf):
        try:
            parts.append(zlib.decompressobj().decompress(pdf[match.end() :]))
        except zlib.error:
            continue
    return b"\n".join(parts)


def n_pages(pdf):
    return len(re.findall(rb"/Type /Page\b(?!s)", pdf_objects(pdf)))


class Tags(HTMLParser):
    """Elements, attributes and visible text of a page."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.words = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.mark.parametrize("name", ["bouts", "unpleasant, muscle", "not clear", "two protocols"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_handout_is_one_small_tagged_page(tmp_path, name, language):
    records, unpleasant = CASES[name]
    told = sheet(unpleasant=["anxiety"] if unpleasant else [])
    pdf = written(tmp_path, records, told, language=language)
    objects = pdf_objects(pdf)
    assert n_pages(pdf) == 1
    assert len(pdf) < 300_000
    # ISO 14289-1: identifier, tags, language, title shown, alternative text of figures.
    assert b"pdfuaid" in objects
    assert b"/Marked true" in objects
    assert f"/Lang ({language})".encode() in objects
    assert b"/DisplayDocTitle true" in objects
    assert objects.count(b"/S /Figure") == 1
    assert b"/Alt" in objects[objects.index(b"/S /Figure") :]


LONG = {
    "a long message": "Thank you for coming today, it was good to sit with you. " * 60,
    "one word": "m" * 3900,
    "many lines": "a\n\n\n" * 900,
    "right to left": SHALOM * 200,
    "emoji": "\U0001f33f\U0001f468‍\U0001f469‍\U0001f467" * 400,
    "markup": HOSTILE * 20,
}


@pytest.mark.parametrize("name", LONG)
def test_no_message_makes_a_second_page(tmp_path, name):
    records, _ = CASES["two protocols"]
    told = sheet(message=LONG[name][:4000], unpleasant=["pain", "unreality"])
    assert n_pages(written(tmp_path, records, told)) == 1


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_fullest_page_is_still_one(tmp_path, language):
    contact = {"who": "W " * 60, "phone": "1" * 60, "email": "e" * 120, "urgent": "call " * 40}
    clinic = {"name": "M" * 120, "contact": contact}
    records, _ = CASES["eyes"]
    fullest = [records[0], *CASES["muscle"][0], *CASES["no place"][0]]
    told = sheet(message="Word after word. " * 230, unpleasant=["other"])
    assert n_pages(written(tmp_path, fullest, told, clinic, language)) == 1


def test_the_same_handout_is_the_same_bytes(tmp_path):
    assert written(tmp_path) == written(tmp_path)


def test_not_yet_reviewed_until_released():
    assert "No person has checked it yet" in Tags(html()).text
    page = Tags(html(review=Reviewed("DR2", dt.date(2026, 3, 16)))).text
    assert "No person has checked it yet" not in page
    assert "Checked by DR2 on March 16, 2026" in page


def test_dates_follow_the_language():
    assert "14. März 2026" in Tags(html(language="de")).text


def test_the_page_says_who_is_meant_and_whom_to_call():
    page = Tags(html()).text
    expected = ("K07", "March 14, 2026", "Lindenhof Practice (invented)", "The front desk",
                "+00 1 234 5678", "Call your local emergency number.", "Name",
                "Lovely to see you settle after the pause.")  # fmt: skip
    assert [words for words in expected if words not in page] == []
    assert all(caution in page for caution in load_words("en", None).cautions)


def test_private_notes_stay_off_the_page():
    page = html(told=sheet(notes="PRIVATE-NOTE", instruction="PRIVATE-INSTRUCTION"))
    assert "PRIVATE" not in page
    assert "softening jaw" not in page  # the practitioner's remark on the break


def test_codes_of_unpleasant_experiences_stay_off_the_page():
    page = html(told=sheet(unpleasant=["upsetting-memory"], message=None))
    assert "memory" not in page


def test_no_message_leaves_no_empty_box():
    assert "A note from your trainer" not in html(told=sheet(message=None))
    assert "A note from your trainer" not in html(told=sheet(message=" \n "))


def test_hostile_text_is_shown_and_never_run():
    clinic = {
        "name": HOSTILE[:100],
        "contact": {"who": HOSTILE[:100], "phone": HOSTILE[:50], "urgent": HOSTILE[:150]},
    }
    clean, attacked = Tags(html()), Tags(html(told=sheet(message=HOSTILE), clinic=clinic))
    assert set(attacked.tags) == set(clean.tags)
    assert attacked.tags.count("style") == 1
    assert not [name for name, _ in attacked.attributes if name.startswith("on")]
    assert "<script>window.leak=1</script>" in attacked.text
    assert "{{ 7*7 }}" in attacked.text
    assert "49" not in attacked.text


def test_a_right_to_left_message_is_kept_apart():
    page = html(told=sheet(message=SHALOM))
    assert f'<p class="user" dir="auto">{SHALOM.strip()}</p>' in page


@pytest.mark.parametrize(
    ("message", "most", "expected"),
    [
        ("One two. Three four.", 40, ("One two. Three four.", False)),
        ("One two.\n\n Three\tfour.", 40, ("One two. Three four.", False)),
        ("One two is here. Three four five.", 25, ("One two is here.", True)),
        ("One. Three four five six seven.", 25, ("One. Three four five…", True)),
        ("abcdefghijklmnop", 11, ("abcdefghij…", True)),
        ("abcdefghi\u0301klmnop", 11, ("abcdefghi…", True)),
    ],
)
def test_a_message_is_cut_at_the_end_of_a_sentence_or_word(message, most, expected):
    assert shortened(message, most) == expected


def test_a_cut_message_says_that_it_goes_on():
    page = handout_html(inputs(told=sheet(message="Many words. " * 90)), 9.5, 500)
    assert "The note goes on." in page
    assert "The note goes on." not in html()


def test_the_picture_shows_the_record_to_scale():
    found = scored()
    drawn = picture([found], [(125, 390), (440, 720)])
    scale = (WIDTH - 2 * drawn.left) / quality().duration_s
    # 2:05 to 6:30 of 13:00.
    assert drawn.practice[0].x == pytest.approx(drawn.left + 125 * scale, abs=0.01)
    assert drawn.practice[0].width == pytest.approx(265 * scale, abs=0.01)
    assert len(drawn.bouts) == found.cleaned.bouts_total
    for rect, bout in zip(drawn.bouts, found.cleaned.bouts, strict=True):
        assert rect.x == pytest.approx(drawn.left + bout.start_s * scale, abs=0.01)
        assert rect.width == pytest.approx(max((bout.stop_s - bout.start_s) * scale, 1.2), abs=0.01)
    assert [t.minute for t in drawn.ticks] == [0, 2, 4, 6, 8, 10, 12]


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("bouts", "The goal was met 82 times, for 2 minutes and 10 seconds in all."),
        ("one bout", "The goal was met once, for 17 seconds."),
        ("out of reach", "The goal was not met."),
        ("not clear", "No goal times are shown, since the sitting could not be scored."),
    ],
)
def test_the_picture_has_its_facts_in_words(name, sentence):
    title = re.search(r"<title>(A bar.*?)</title>", html(CASES[name][0]))[1]
    # The invented sitting: 13:00 long, practice 265 + 280 s.
    start = "A bar shows the sitting from start to end, 13 minutes. Practice took 9 minutes and 5"
    assert title.startswith(start)
    assert title.endswith(sentence)


@pytest.fixture
def clinic(tmp_path):
    """A clinic with one finished sitting."""
    clinic = Clinic(tmp_path)
    write_atomically(
        clinic.settings_file,
        "name: Lindenhof Practice (invented)\nmains_hz: 50\ntime_zone: Europe/Vienna\n"
        "contact: {who: The front desk, urgent: Call your local emergency number.}\n",
    )
    folder = "derivatives/replay-s1-warm-attention-v2/sub-K07/ses-03"
    write_atomically(tmp_path / folder / "record.json", scored().model_dump_json())
    write_atomically(
        clinic.original(SITTING, 1) / "sitting.yaml",
        "client: K07\npractice: compassion\nprotocol: warm-attention\neyes: closed\n"
        'blocks: [{kind: practice, start: "2:05", end: "6:30"}]\nmessage: See you soon.\n',
    )
    return clinic


def files_of(clinic):
    folder = clinic.derivatives / "replay-s1-warm-attention-v2/sub-K07/ses-03"
    return answered_for([folder / "record.json"], clinic.original(SITTING, 1) / "sitting.yaml")


def test_a_released_handout_goes_back_when_its_record_changes(clinic):
    files = files_of(clinic)
    release(clinic, SITTING, "DR2", files, dt.date(2026, 3, 16))
    assert reviewed(clinic, SITTING, files) == Reviewed("DR2", dt.date(2026, 3, 16))
    write_atomically(files[0], CASES["muscle"][0][0].model_dump_json())
    assert reviewed(clinic, SITTING, files) is None


def test_an_unscored_sitting_is_not_drawn_as_a_goal_never_met():
    page = html(CASES["not clear"][0])
    assert "Practice, not scored" in page
    assert "Goal met" not in page
    assert page.count('fill="url(#not-scored)"') == 2
    scored = html(CASES["out of reach"][0])
    assert "Goal met" in scored
    assert "url(#not-scored)" not in scored


def test_a_clinics_own_sentence_reaches_its_page(clinic):
    write_atomically(clinic.root / "words.yaml", "handout: {title: Our hour together}\n")
    own = replace(inputs(told=sheet(message="See you soon.")), words=clinic_words(clinic, "en"))
    page = handout_html(own, *FITS[0])
    assert "<h1>Our hour together</h1>" in page
    assert "See you soon." in page


def test_a_sitting_without_known_practice_says_nothing_of_its_length():
    told = sheet(blocks="from-annotations")
    page = html(CASES["no practice"][0], told)
    title = re.search(r"<title>(A bar.*?)</title>", page)[1]
    assert "Practice took" not in title
    assert title.startswith("A bar shows the sitting from start to end, 13 minutes. No goal times")


def test_the_words_about_something_unpleasant_come_first_and_apart():
    page = html(told=sheet(unpleasant=["pain"]))
    apart = re.search(r'<p class="care">(.*?)</p>', page)[1]
    assert apart.startswith("You told us that something did not feel good.")
    assert page.index("You told us") < page.index("The goal was met 82 times")
