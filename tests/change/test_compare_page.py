"""The comparison as a page, in a real browser without a network: accessible, whole, narrow."""

import json

import pytest
from browser import Watched, chromium
from small_archive import ALPHA, TEMPLES, write_protocol

from aftersit.change.compare import compare
from aftersit.change.replay import replay
from aftersit.change.select import Request

pytestmark = pytest.mark.slow
HARDER = ALPHA | {"threshold": {"db_over_baseline": 1.3}}


@pytest.fixture
def page(clinic):
    write_protocol(clinic, 2, (HARDER, TEMPLES | {"band_hz": [22, 34]}))
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    compare(clinic, "calm-sea/v1", "calm-sea/v2", None)
    folder = clinic.reports / "versions-compared" / "calm-sea-v1-and-calm-sea-v2"
    return folder / "compare.html"


def test_it_is_accessible_and_nothing_is_wider_than_a_phone(page):
    """axe-core, rules of WCAG 2.2 A and AA; reflow at 320 px (WCAG 2.2, 1.4.10)."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    with chromium() as browser:
        for width in (320, 1280):
            watched = Watched(browser, width=width)
            watched.open(page)
            found = axe.Axe().run(watched.tab).response["violations"]
            assert found == [], json.dumps(found)[:1500]
            wide = watched.tab.evaluate("document.documentElement.scrollWidth")
            assert wide <= width
            assert (watched.asked, watched.troubles) == ([], [])
            watched.close()


def test_what_a_decision_rests_on_stands_on_the_first_screen(page):
    with chromium() as browser:
        watched = Watched(browser, width=1280, height=800)
        watched.open(page)
        for start in ("Under B, time in target", "Could not be scored", "What differs"):
            box = watched.tab.get_by_text(start).first.bounding_box()
            assert box["y"] + box["height"] < 800
        watched.close()
