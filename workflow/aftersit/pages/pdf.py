"""From a page to a tagged PDF."""

import contextlib
import ctypes.util
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from aftersit.errors import AftersitError
from aftersit.pages.pdf_tags import mend_tags

# Dates inside a PDF would make the same page other bytes each day; a fixed one
# is what reproducible-builds.org asks writers of files to honour.
EPOCH = "315532800"

VARIANT = "pdf/ua-1"


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
    fetcher = weasyprint.urls.URLFetcher(
        allowed_protocols=("file", "data"), allow_redirects=False, fail_on_errors=True
    )
    document = weasyprint.HTML(string=html, base_url=f"{base}/", url_fetcher=fetcher)
    return document.render(pdf_variant=VARIANT)


def _weasyprint():
    try:
        with _names_as_they_are():
            import weasyprint
    except OSError as error:
        raise AftersitError(
            "PDF pages need the system library Pango, which is not installed; on Debian: "
            "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
        ) from error
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
