"""Tags of the PDF pages against ISO 14289-1:2014 (PDF/UA-1); clauses stand beside the checks.

An independent checker decides part of the rules (see its test); the others of those that
our pages touch are looked at here.
"""

import datetime as dt
import io
import itertools

import pikepdf
import pytest
import sample_progress
import samples
from handout_cases import cases
from hostile import hostile_clinic, hostile_inputs, hostile_sheet
from sample_given import CLINIC, sheet

from aftersit.clinic import ClinicSettings, SittingId
from aftersit.pages.clinician import Clinician
from aftersit.pages.handout import HandoutInputs, write_handout
from aftersit.pages.progress import Progress
from aftersit.pages.words import load_words

CAUTIONS = load_words("en").cautions
HEADINGS = ("/H1", "/H2", "/H3", "/H4")


def handout(records, told=None, clinic=None, language="en"):
    def write(path):
        words = load_words(language)
        settings = clinic or ClinicSettings.checked(CLINIC, "clinic")
        day, one = dt.date(2026, 3, 14), SittingId("K07", 3)
        write_handout(
            HandoutInputs(one, day, tuple(records), told or sheet(), settings, words), path
        )

    return write


def clinician(inputs):
    return lambda path: path.write_bytes(Clinician(inputs, CAUTIONS).pdf())


def progress(inputs):
    return lambda path: Progress(inputs, CAUTIONS).write(path.with_suffix(".html"))


PAGES = {
    "clinician": lambda: clinician(samples.two_protocols()),
    "clinician hostile": lambda: clinician(hostile_inputs()),
    "handout": lambda: handout(cases()["bouts"][0]),
    "handout in German": lambda: handout(cases()["not clear"][0], language="de"),
    "handout hostile": lambda: handout(cases()["bouts"][0], hostile_sheet(), hostile_clinic()),
    "progress": lambda: progress(sample_progress.mixed()),
}


@pytest.fixture(scope="module", params=PAGES)
def pdf_file(request, tmp_path_factory):
    path = tmp_path_factory.mktemp("pdf") / "page.pdf"
    PAGES[request.param]()(path)
    return path


@pytest.fixture(scope="module")
def pdf(pdf_file):
    with pikepdf.open(io.BytesIO(pdf_file.read_bytes())) as found:
        yield found


def kids(element) -> list:
    found = element.get("/K", [])
    return list(found) if isinstance(found, pikepdf.Array) else [found]


def walk(element):
    yield element
    for kid in kids(element):
        if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") != "/OBJR":
            yield from walk(kid)


def elements(pdf) -> list:
    return [e for top in kids(pdf.Root.StructTreeRoot) for e in walk(top)]


def of_kind(pdf, *kinds) -> list:
    return [e for e in elements(pdf) if e.get("/S") in kinds]


def test_it_says_what_it_is(pdf):
    """5: identification; 7.1: title shown, tagged; 7.2: language."""
    with pdf.open_metadata() as metadata:
        assert metadata["pdfuaid:part"] == "1"
        assert metadata["dc:title"]
    assert pdf.Root.MarkInfo.Marked
    assert pdf.Root.ViewerPreferences.DisplayDocTitle
    assert str(pdf.Root.Lang) in ("en", "de")


def test_headings_begin_at_the_first_level_and_skip_none(pdf):
    """7.4.2."""
    levels = [HEADINGS.index(str(e.S)) + 1 for e in of_kind(pdf, *HEADINGS)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


def test_every_figure_has_other_words(pdf):
    """7.3; what they say is tested with the pictures."""
    figures = of_kind(pdf, "/Figure")
    assert all(len(str(f.Alt)) > 30 for f in figures)


def test_every_head_says_what_it_heads(pdf):
    """7.5."""
    for head in of_kind(pdf, "/TH"):
        group = head.P.P.S
        assert head.A.Scope == ("/Column" if group == "/THead" else "/Row")
    for group in of_kind(pdf, "/THead"):
        assert {str(e.S) for row in kids(group) for e in kids(row)} == {"/TH"}


def test_all_rows_of_a_table_are_as_wide(pdf):
    """7.5: cells that span others counted in."""
    for table in of_kind(pdf, "/Table"):
        over, widths = {}, set()
        for i, row in enumerate(r for r in walk(table) if r.get("/S") == "/TR"):
            cells = [c for c in kids(row) if c.get("/S") in ("/TH", "/TD")]
            widths.add(sum(int(c.A.get("/ColSpan", 1)) for c in cells) + over.get(i, 0))
            for cell in cells:
                for below in range(1, int(cell.A.get("/RowSpan", 1))):
                    over[i + below] = over.get(i + below, 0) + int(cell.A.get("/ColSpan", 1))
        assert len(widths) == 1


def test_lists_hold_items_only(pdf):
    """7.6 and ISO 32000-1, 14.8.4.3.3."""
    for found in of_kind(pdf, "/L"):
        assert {str(e.S) for e in kids(found)} <= {"/LI", "/L", "/Caption"}
    for item in of_kind(pdf, "/LI"):
        assert item.P.S == "/L"


def marked(page) -> tuple[set[int], int]:
    """Numbers of a page's marked content, and operators that paint text outside all marks."""
    numbers, bare, depth = set(), 0, 0
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name in ("BDC", "BMC"):
            depth += 1
            if name == "BDC" and isinstance(operands[1], pikepdf.Dictionary):
                numbers |= {int(operands[1].MCID)} if "/MCID" in operands[1] else set()
        depth -= name == "EMC"
        bare += name in ("Tj", "TJ") and depth == 0
    return numbers, bare


def test_all_that_is_painted_is_in_the_tree_or_an_artifact(pdf):
    """7.1 and 7.8: no content is lost to a reader, and feet of pages are not read out."""
    told = {page.objgen: set() for page in pdf.pages}
    for element in elements(pdf):
        told_here = {int(k) for k in kids(element) if not isinstance(k, pikepdf.Dictionary)}
        if told_here:
            told[element.Pg.objgen] |= told_here
    for page in pdf.pages:
        numbers, bare = marked(page)
        assert numbers == told[page.objgen]
        assert bare == 0


def test_fonts_are_embedded_and_their_signs_have_a_meaning(pdf):
    """7.21.4.1 and 7.21.7."""
    fonts = [f for page in pdf.pages for f in page.Resources.get("/Font", {}).values()]
    assert fonts
    for font in fonts:
        inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
        assert any(f"/FontFile{n}" in inner.FontDescriptor for n in ("", "2", "3"))
        assert "/ToUnicode" in font


def test_nothing_runs_or_leads_outside(pdf):
    """Hostile strings make no action, link, form or attachment."""
    for key in ("/OpenAction", "/AA", "/AcroForm"):
        assert key not in pdf.Root
    assert "/EmbeddedFiles" not in pdf.Root.get("/Names", {})
    assert [a for page in pdf.pages for a in page.get("/Annots", [])] == []


def test_an_independent_checker_finds_no_breach(pdf_file):
    """Its 12 checks decide 16 of the 106 rules that a machine can decide (version 0.1.3):

    tags and marks (7.1), language (7.2), title shown (7.1), other words for figures (7.3),
    headings with content (7.4), heads of tables (7.5), notes and links (7.18), identification
    (5). One of them, of empty headings, gives up where text is broken over pages.
    """
    pdfua = pytest.importorskip("pdfua")
    report = pdfua.validate(str(pdf_file))
    assert [f.message for f in report.findings] == []
    assert {o.rule_id for o in report.skipped} <= {"UA-14-001"}


def test_headings_have_content(pdf):
    """7.4: each holds marked text of its own, or an element that does."""
    for heading in of_kind(pdf, *HEADINGS):
        below = [k for e in walk(heading) for k in kids(e)]
        assert any(not isinstance(k, pikepdf.Dictionary) for k in below)
