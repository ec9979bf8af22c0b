"""A real Chromium without a network, for tests of pages."""

import contextlib
import shutil
from collections.abc import Iterator

import pytest


@contextlib.contextmanager
def chromium() -> Iterator:
    """The system's Chromium; the test is skipped with the reason when there is none."""
    sync_api = pytest.importorskip("playwright.sync_api")
    path = shutil.which("chromium") or shutil.which("google-chrome")
    if path is None:
        pytest.skip("no Chromium on this machine; on Debian: apt-get install chromium")
    with sync_api.sync_playwright() as runner:
        browser = runner.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


class Watched:
    """A tab that notes all that a page tries: requests, errors, dialogs, windows.

    Attributes
    ----------
    asked : list of str
        Addresses that the page asked for, its own and embedded data aside.
    troubles : list of str
        Errors, refusals of the page's policy, dialogs.
    """

    def __init__(self, browser, width: int = 1280, height: int = 900, **options):
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, offline=True, **options
        )
        self.tab = self.context.new_page()
        self.asked: list[str] = []
        self.troubles: list[str] = []
        self.tab.on("request", self._request)
        self.tab.on("pageerror", lambda error: self.troubles.append(str(error)))
        self.tab.on("console", self._console)
        self.tab.on("dialog", lambda dialog: self.troubles.append(f"dialog {dialog.message}"))
        self.context.on("page", lambda page: self.troubles.append(f"window {page.url}"))

    def _request(self, request) -> None:
        if not request.url.startswith(("data:", "file:")):
            self.asked.append(request.url)

    def _console(self, message) -> None:
        if message.type in ("error", "warning"):
            self.troubles.append(message.text)

    def open(self, path) -> None:
        """Open a page's file and wait until nothing moves any more."""
        self.tab.goto(path.as_uri())
        self.tab.wait_for_load_state("networkidle")

    def close(self) -> None:
        self.context.close()
