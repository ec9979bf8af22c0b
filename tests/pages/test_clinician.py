"""The clinician's report as a page: safe, self-contained, accessible, the same each time."""

import base64
import hashlib
import itertools
import re
import zlib
from html.parser import HTMLParser

import pytest
import samples
import weasyprint

from aftersit.pages.clinician import Clinician
from aftersit.pages.style import TEMPLATES
from aftersit.pages.words import load_words

CAUTIONS = load_words("en").cautions
KINDS = (
    "scored",
    "reviewed",
    "out_of_reach",
    "not_scored",
    "refused",
    "two_protocols",
    "hostile",
)


class Page(HTMLParser):
    """Elements, their attributes and the text of a page."""

    def __init__(self, html: str):
        super().__init__()
        self.elements: list[tuple[str, dict]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.elements and self.elements[-1][0] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))

    def all(self, tag: str) -> list[dict]:
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.fixture(scope="module")
def pages() -> dict[str, Page]:
    return {kind: Page(Clinician(getattr(samples, kind)(), CAUTIONS).html()) for kind in KINDS}


@pytest.fixture(scope="module")
def report() -> Clinician:
    return Clinician(samples.scored(), CAUTIONS)


@pytest.fixture(scope="module")
def pdf(report) -> bytes:
    return report.pdf()


@pytest.fixture(scope="module")
def pdf_objects(pdf) -> bytes:
    """Everything of the PDF that is compressed, laid open."""
    opened = []
    for stream in re.findall(rb"stream\n(.*?)\nendstream", pdf, re.DOTALL):
        try:
            opened.append(zlib.decompress(stream))
        except zlib.error:
            opened.append(stream)
    return pdf + b"".join(opened)


def test_hostile_text_stays_text(pages):
    page = pages["hostile"]
    assert len(page.all("script")) == len(pages["scored"].all("script"))
    assert all(image["src"].startswith("data:image/png;base64,") for image in page.all("img"))
    assert "window.leak=1" in page.text
    assert "{{ 7*7 }}" in page.text
    assert page.text.count("https://evil.invalid/x.png") > 20


def test_hostile_text_adds_no_element(pages):
    hostile = {tag for tag, _ in pages["hostile"].elements}
    assert hostile == {tag for tag, _ in pages["scored"].elements}


def test_no_attribute_runs_code(pages):
    for page in pages.values():
        assert not [a for _, at in page.elements for a in at if a.startswith("on")]


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_outside_the_file_is_loaded(pages, kind):
    page = pages[kind]
    for tag in ("link", "iframe", "object", "embed", "base"):
        assert page.all(tag) == []
    for _, attributes in page.elements:
        for name in ("src", "href", "xlink:href", "srcset", "action"):
            assert attributes.get(name, "#").startswith(("#", "data:image/png;base64,"))


def test_the_style_sheet_loads_nothing_from_outside(report):
    css = re.search(r"<style>(.*?)</style>", report.html(), re.DOTALL)[1]
    addresses = re.findall(r"url\(([^)]{0,30})", css)
    assert len(addresses) == 3
    assert all(a.startswith('"data:font/woff;') for a in addresses)
    assert "@import" not in css


@pytest.mark.parametrize(("kind", "scripts"), [("scored", 2), ("hostile", 2), ("not_scored", 0)])
def test_the_policy_names_each_script_by_its_checksum_and_forbids_the_net(kind, scripts):
    """Content Security Policy Level 3, 2.3.1: 'sha256-' and the base64 of the SHA-256 of what
    stands between the tags; without a host and without 'unsafe-inline' nothing else runs."""
    html = Clinician(getattr(samples, kind)(), CAUTIONS).html()
    policy = next(m["content"] for m in Page(html).all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'; style-src 'unsafe-inline'; font-src data:")
    found = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    sums = [base64.b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in found]
    assert len(found) == scripts
    assert [f"'sha256-{s}'" for s in sums] == policy.partition("; script-src ")[2].split()


def test_what_the_control_reads_can_not_close_its_element(pages):
    data = [s for s in pages["hostile"].all("script") if s]
    assert [s["type"] for s in data] == ["application/json"]


def test_the_printed_page_has_no_control(report):
    assert "<script" not in report.html("print")
    assert "data-number" not in report.html("print")


@pytest.mark.parametrize("kind", KINDS)
def test_every_figure_has_words_for_what_it_shows(pages, kind):
    page = pages[kind]
    ids = {attributes["id"] for _, attributes in page.elements if "id" in attributes}
    for picture in page.all("svg"):
        assert picture["role"] == "img"
        assert set(picture["aria-labelledby"].split()) <= ids
    assert all(image["alt"] for image in page.all("img"))
    expected = {"scored": 6, "not_scored": 3, "two_protocols": 6}
    assert len(page.all("svg")) == expected.get(kind, len(page.all("svg")))


@pytest.mark.parametrize("kind", KINDS)
def test_ids_are_used_once(pages, kind):
    ids = [attributes["id"] for _, attributes in pages[kind].elements if "id" in attributes]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("kind", KINDS)
def test_headings_skip_no_level(pages, kind):
    levels = [int(tag[1]) for tag, _ in pages[kind].elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


def test_every_table_has_a_caption_and_scoped_heads(pages):
    page = pages["two_protocols"]
    assert len(page.all("table")) == len(page.all("caption")) == len(page.all("thead")) > 8
    assert all(head.get("scope") in ("col", "row") for head in page.all("th"))


def test_a_page_holds_its_sitting_and_its_state(pages):
    assert "Client K07, sitting 03" in pages["scored"].text
    assert "March 14, 2026" in pages["scored"].text
    assert "not yet reviewed" in pages["scored"].text
    assert "reviewed by DR2" in pages["reviewed"].text
    assert "not yet reviewed" not in pages["reviewed"].text


def test_dates_follow_the_clinic_s_language():
    clinic = samples.scored().clinic.model_copy(update={"language": "de"})
    page = Page(Clinician(samples.scored(clinic=clinic), CAUTIONS).html())
    assert "14. März 2026" in page.text
    assert page.all("html")[0]["lang"] == "en"


def test_cautions_stand_on_every_page(pages):
    for page in pages.values():
        for caution in CAUTIONS:
            assert caution in page.text


def test_a_sitting_that_was_not_scored_says_why_and_what_to_do(pages):
    text = pages["not_scored"].text
    assert "Not scored, because too few electrodes served and too few usable seconds" in text
    assert "Check cap fit, gel and impedances" in text
    assert "What kept the reward away" not in text


def test_a_refused_condition_says_what_the_recording_carries(pages):
    text = pages["refused"].text
    assert "the band is not in the recording, which carries 1–40 Hz" in text
    assert "35–45 Hz" in text
    assert "Use a protocol whose band lies inside" in text


def test_what_was_said_stands_under_its_block_so_that_a_narrow_screen_holds_it(pages):
    """A row of its own over all columns but the block's number; said of both practice blocks
    and the break of the invented sheet."""
    cells = pages["scored"].all("td")
    assert [c["colspan"] for c in cells if c.get("class") == "words"] == ["6"] * 3
    assert len([h for h in pages["scored"].all("th") if h.get("rowspan") == "2"]) == 3


def test_remarks_and_notes_are_shown(pages):
    text = pages["scored"].text
    assert "Suggested softening jaw and brow; less trying." in text
    assert "Came straight from work; jaw felt tight at first." in text
    assert "Room's threshold: insula 4.2 " in text


def test_settings_and_checksums_are_shown(pages):
    text = pages["scored"].text
    assert f"high_pass_hz {samples.scored().settings.clean.high_pass_hz}" in text
    assert "ab" * 32 in text


def test_the_same_sitting_gives_the_same_bytes(report, pdf):
    again = Clinician(samples.scored(), CAUTIONS)
    assert again.html() == report.html()
    assert again.pdf() == pdf


def test_the_page_is_small(report, pdf):
    assert len(report.html().encode()) < 3_000_000
    assert len(pdf) < 1_000_000


@pytest.mark.parametrize("kind", ["scored", "not_scored", "two_protocols"])
def test_the_first_sheet_holds_the_title_and_begins_the_summary(kind):
    html = Clinician(getattr(samples, kind)(), CAUTIONS).html("print")
    words = first_sheet(html)
    assert "Client K07, sitting 03" in words
    assert "In short" in words
    assert "When was the client in the target state?" in words


def first_sheet(html: str) -> str:
    """Text of the first printed page, as laid out."""
    page = weasyprint.HTML(string=html, base_url=f"{TEMPLATES}/").render().pages[0]
    boxes = page._page_box.descendants()
    return " ".join(box.text for box in boxes if getattr(box, "text", None))


def test_the_pdf_is_tagged_titled_and_in_a_language(pdf, pdf_objects):
    """What ISO 14289-1:2014 asks and plain bytes can show: structure, language, title, part."""
    for part in (b"/StructTreeRoot", b"/Marked true", b"/Lang (en)", b"/DisplayDocTitle true"):
        assert part in pdf_objects
    assert b"part>1<" in pdf_objects or b'part="1"' in pdf_objects
    assert pdf.startswith(b"%PDF-1.7")


def test_every_figure_of_the_pdf_has_its_alternative_text(pdf_objects):
    assert pdf_objects.count(b"/S /Figure") == 7
    assert pdf_objects.count(b"/Alt ") == 7


def test_every_table_of_the_pdf_has_heads(pdf_objects):
    tables = pdf_objects.count(b"/S /Table")
    assert tables > 8
    assert pdf_objects.count(b"/S /TH") > tables


def test_the_pdf_holds_no_date(pdf_objects):
    for key in (b"/CreationDate", b"/ModDate", b"CreateDate", b"ModifyDate"):
        assert key not in pdf_objects
