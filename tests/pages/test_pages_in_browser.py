"""All pages in a real Chromium: hostile text stays text, and axe-core finds nothing."""

import datetime as dt
from pathlib import PurePosixPath

import pytest
import sample_progress
import samples
from browser import Watched, chromium
from handout_cases import cases, scored
from hostile import (
    CALCULATED,
    LONG,
    SHORT,
    hostile_clinic,
    hostile_course,
    hostile_inputs,
    hostile_night,
    hostile_sheet,
)
from sample_given import CLINIC, sheet
from test_digest import night

from aftersit.clinic import ClinicSettings, SittingId
from aftersit.pages.clinician import Clinician
from aftersit.pages.digest import digest_html
from aftersit.pages.handout import FITS, HandoutInputs, handout_html
from aftersit.pages.progress import Progress
from aftersit.pages.words import load_words

pytestmark = pytest.mark.slow

CASES = cases()
CAUTIONS = load_words("en").cautions
KINDS = ("scored", "reviewed", "out_of_reach", "not_scored", "refused", "two_protocols")
WIDTHS = {"phone": 360, "desktop": 1280, "paper": 794}
"""In CSS pixels; paper: A4 at 96 a inch, for the page that is only ever printed."""


def _clinician(inputs) -> str:
    return Clinician(inputs, load_words("en").cautions).html()


def _handout(records=None, told=None, clinic=None, language="en") -> str:
    """The handout's page, as it goes to the printer."""
    words = load_words(language)
    inputs = HandoutInputs(
        sitting=SittingId("K07", 3),
        date=dt.date(2026, 3, 14),
        records=tuple(records or [scored()]),
        sheet=told or sheet(),
        clinic=clinic or ClinicSettings.checked(CLINIC, "clinic"),
        words=words,
    )
    return handout_html(inputs, *FITS[0])


def _digest(told, language="en") -> str:
    return digest_html(told, PurePosixPath("reports/nightly/2026-03-14"), load_words(language))


PAGES = {
    **{f"clinician {k}": (lambda k=k: _clinician(getattr(samples, k)())) for k in KINDS},
    "clinician hostile": lambda: _clinician(hostile_inputs()),
    "progress": lambda: Progress(sample_progress.mixed(), CAUTIONS).html(),
    "progress hostile": lambda: Progress(hostile_course(), CAUTIONS).html(),
    "handout": _handout,
    "handout in German": lambda: _handout(language="de"),
    "handout not scored": lambda: _handout(CASES["not clear"][0]),
    "handout hostile": lambda: _handout(None, hostile_sheet(), hostile_clinic()),
    "digest": lambda: _digest(night()),
    "digest in German": lambda: _digest(night(), "de"),
    "digest hostile": lambda: _digest(hostile_night()),
}
PLAIN = {
    "clinician hostile": "clinician reviewed",
    "handout hostile": "handout",
    "digest hostile": "digest",
    "progress hostile": "progress",
}
"""Hostile pages, and the page that holds the same elements."""
FONT_OF_PRINT = "Loading the font 'file:"
"""The handout's fonts stand beside it for the printer; a browser refuses them."""


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Each page's file, made when it is first asked for."""
    folder, made = tmp_path_factory.mktemp("pages"), {}

    def file(name):
        if name not in made:
            made[name] = folder / f"{name.replace(' ', '-')}.html"
            made[name].write_text(PAGES[name](), encoding="utf-8")
        return made[name]

    return file


def opened(browser, path, width):
    watched = Watched(browser, WIDTHS[width])
    watched.open(path)
    return watched


def widths(name: str) -> list[str]:
    """How wide a page is read."""
    return ["paper"] if name.startswith("handout") else ["phone", "desktop"]


def elements(tab) -> dict[str, int]:
    """How often each element stands in a page."""
    return tab.evaluate(
        "() => { const n = {}; for (const e of document.querySelectorAll('*'))"
        " n[e.localName] = (n[e.localName] || 0) + 1; return n; }"
    )


@pytest.mark.parametrize("name", PLAIN)
def test_nothing_hostile_runs_loads_or_becomes_an_element(browser, files, name):
    watched = opened(browser, files(name), "desktop")
    tab = watched.tab
    for summary in tab.locator("summary").all():
        summary.click()
    for control in tab.locator("input, button").all():
        control.focus()
        control.press("ArrowRight")
    assert tab.evaluate("typeof window.leak") == "undefined"
    assert watched.asked == []
    assert [t for t in watched.troubles if not t.startswith(FONT_OF_PRINT)] == []
    found, expected = elements(tab), elements(opened(browser, files(PLAIN[name]), "desktop").tab)
    assert set(found) <= set(expected)
    for tag in ("script", "style", "meta", "img", "input"):
        assert found.get(tag) == expected.get(tag)
    watched.close()


@pytest.mark.parametrize("name", PLAIN)
def test_hostile_text_is_shown_as_it_was_written(browser, files, name):
    watched = opened(browser, files(name), "desktop")
    shown = watched.tab.evaluate("document.body.textContent")
    assert CALCULATED not in shown
    assert LONG[:100] in shown
    for text in SHORT[:2]:
        assert text in shown
    watched.close()


@pytest.mark.parametrize("name", PLAIN)
def test_long_words_and_other_scripts_do_not_widen_a_page(browser, files, name):
    for width in widths(name):
        watched = opened(browser, files(name), width)
        wider = watched.tab.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wider <= 0, (width, wider)
        watched.close()


@pytest.mark.parametrize(("name", "width"), [(n, w) for n in PAGES for w in widths(n)])
def test_axe_finds_no_violation(browser, files, name, width):
    """All rules of axe-core that are on by default, best practices among them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    watched = opened(browser, files(name), width)
    found = axe.run(watched.tab, options={}).response
    told = [
        f"{v['id']}: {v['help']}: {[n['html'][:160] for n in v['nodes'][:3]]}"
        for v in found["violations"]
    ]
    assert told == []
    assert len(found["passes"]) > 15
    watched.close()
