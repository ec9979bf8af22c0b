"""From a page to a tagged PDF."""

import base64
import contextlib
import ctypes.util
import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from aftersit.errors import AftersitError
from aftersit.pages.pdf_tags import mend_tags
from aftersit.pages.pdf_words import set_words_whole

# Dates inside a PDF would make the same page other bytes each day; a fixed one
# is what reproducible-builds.org asks writers of files to honour.
EPOCH = "315532800"

VARIANT = "pdf/ua-1"

_DATA = re.compile(r'(?<=src=")data:([a-z+/]+);base64,([A-Za-z0-9+/=]+)(?=")')
"""A picture inside a page."""


def html_to_pdf(html: str, base: Path) -> bytes:
    """Print a page as PDF/UA-1: tagged, titled, with its language and fonts.

    Parameters
    ----------
    html : str
        The whole page, rendered for print (`style.page_css("print")`).
    base : Path
        Folder against which relative addresses are read.

    Returns
    -------
    bytes
        The same for the same page.

    Raises
    ------
    AftersitError
        The system library Pango is missing.
    """
    return _printed(_laid_out(html, base))


def one_page_pdf(candidates: Iterable[str], base: Path) -> bytes:
    """Print the first of some pages that fits on one sheet; see `html_to_pdf`.

    Parameters
    ----------
    candidates : iterable of str
        The same page, ever shorter or in smaller text; made only as needed.
    base : Path
        Folder against which relative addresses are read.

    Raises
    ------
    AftersitError
        None fits, or the system library Pango is missing.
    """
    for html in candidates:
        document = _laid_out(html, base)
        if len(document.pages) == 1:
            return _printed(document)
    raise AftersitError("a page that must be one sheet is longer, even in its shortest form")


def _printed(document) -> bytes:
    return document.write_pdf(pdf_variant=VARIANT, finisher=mend_tags)


def _laid_out(html: str, base: Path):
    os.environ["SOURCE_DATE_EPOCH"] = EPOCH
    weasyprint = _weasyprint()
    short, pictures = _pictures_apart(html)
    fetcher = _fetcher(weasyprint.urls, pictures)
    document = weasyprint.HTML(string=short, base_url=f"{base}/", url_fetcher=fetcher)
    return document.render(pdf_variant=VARIANT)


def _pictures_apart(html: str) -> tuple[str, dict[str, tuple[str, bytes]]]:
    """A page with short addresses of pictures, and the kind and bytes behind each.

    The printer's parser goes through an address sign by sign; figures are most of a page.
    """
    pictures: dict[str, tuple[str, bytes]] = {}

    def apart(found: re.Match) -> str:
        address = f"picture:{len(pictures)}"
        pictures[address] = (found[1], base64.b64decode(found[2]))
        return address

    return _DATA.sub(apart, html), pictures


def _fetcher(urls, pictures: dict[str, tuple[str, bytes]]):
    """Gives out a page's pictures and local files, and nothing else."""

    class Fetcher(urls.URLFetcher):
        def fetch(self, url, headers=None):
            if url not in pictures:
                return super().fetch(url, headers)
            kind, data = pictures[url]
            return urls.URLFetcherResponse(url, data, {"Content-Type": kind})

    return Fetcher(allowed_protocols=("file", "data"), allow_redirects=False, fail_on_errors=True)


def _weasyprint():
    try:
        with _names_as_they_are():
            import weasyprint
    except OSError as error:
        raise AftersitError(
            "PDF pages need the system library Pango, which is not installed; on Debian: "
            "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
        ) from error
    set_words_whole(weasyprint.svg)
    return weasyprint


@contextlib.contextmanager
def _names_as_they_are() -> Iterator[None]:
    """Libraries are found by their plain names, which Linux has; no search for others.

    The printer first tries names of other systems, and for each of them Python's search
    would start a compiler: a quarter of a second.
    """
    search, ctypes.util.find_library = ctypes.util.find_library, lambda name: None
    try:
        yield
    finally:
        ctypes.util.find_library = search
