"""The scripts that a page may run: its own and a bundled chart library, nothing else."""

import base64
import functools
import hashlib
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from aftersit.pages.style import TEMPLATES

CHARTS = TEMPLATES / "vendor" / "uplot"


@dataclass(frozen=True)
class Script:
    """A script as it stands in the page."""

    source: Markup

    @property
    def checksum(self) -> str:
        """What names it in the page's policy (Content Security Policy Level 3, 2.3.1)."""
        digest = hashlib.sha256(self.source.encode("utf-8")).digest()
        return f"sha256-{base64.b64encode(digest).decode('ascii')}"


@functools.cache
def control_scripts() -> tuple[Script, ...]:
    """The chart library and the control that moves thresholds, in the order to run them."""
    return _script(CHARTS / "uPlot.iife.min.js"), _script(TEMPLATES / "control.js")


@functools.cache
def chart_css() -> Markup:
    """The chart library's style sheet."""
    return Markup(f"\n{(CHARTS / 'uPlot.min.css').read_text(encoding='utf-8')}")


def _script(path: Path) -> Script:
    return Script(Markup(path.read_text(encoding="utf-8")))
