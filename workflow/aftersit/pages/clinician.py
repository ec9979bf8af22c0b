"""The clinician's report: one sitting, the answers first and the evidence behind them."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from aftersit.files import write_atomically
from aftersit.pages import (
    figures_reward,
    figures_spectra,
    figures_timeline,
    tables,
    tables_insight,
    tables_regions,
)
from aftersit.pages.answers import answer_all, ratings, title
from aftersit.pages.control import Control, control
from aftersit.pages.figures import Picture
from aftersit.pages.figures_regions import BRAIN_CAPTION, brain_maps, two_sides
from aftersit.pages.format import day
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.methods import settings_rows, write_methods
from aftersit.pages.pdf import html_to_pdf
from aftersit.pages.phrases import felt_unpleasant
from aftersit.pages.scripts import chart_css, control_scripts
from aftersit.pages.style import TEMPLATES, Target
from aftersit.pages.template import render

TEMPLATE = "clinician.html"
LANGUAGE = "en"
"""The report's own wording; dates and cautions follow the clinic's language."""


@dataclass(frozen=True)
class ProtocolPart:
    """What the page shows of one protocol."""

    replay: Replayed
    title: str
    scored: bool
    timeline: Picture | None = None
    obstacles: Picture | None = None
    changes: Picture | None = None
    control: Control | None = None
    advised: bool = False
    """Whether advice may be shown; not where something unpleasant was coded."""


class Clinician:
    """One sitting's report, ready to be rendered for screen and print.

    Parameters
    ----------
    inputs : SittingInputs
        The sitting.
    cautions : sequence of str
        Sentences that stand on every page (`words.Words.cautions`), in the clinic's language.
    """

    def __init__(self, inputs: SittingInputs, cautions: Sequence[str]):
        self.inputs = inputs
        self._values = {
            "inputs": inputs,
            "record": inputs.record,
            "cautions": cautions,
            "groups": answer_all(inputs),
            "parts": [_part(inputs, r, n) for n, r in enumerate(inputs.replays, 1)],
            "spectra": _spectra(inputs),
            "methods": write_methods(inputs),
            "settings_rows": settings_rows(inputs),
            "ratings": ratings(inputs),
            "date": day(inputs.date, inputs.clinic.language),
            "review_date": _review_date(inputs),
            "sources": [(s.name, s.sha256) for s in inputs.sources],
            "tables": tables,
            "regions": tables_regions,
            "brains": brain_maps(inputs),
            "brain_caption": BRAIN_CAPTION,
            "two_sides": two_sides(inputs),
            "insight": tables_insight,
        }

    @property
    def title(self) -> str:
        """Title of the page: code and number, no name."""
        return f"Clinician's report: client {self.inputs.record.client}, sitting {self.number}"

    @property
    def _controls(self) -> bool:
        return any(part.control for part in self._values["parts"])

    @property
    def number(self) -> str:
        """Number of the sitting as folders write it."""
        return f"{self.inputs.record.sitting:02d}"

    def html(self, target: Target = "screen") -> str:
        """The page; `screen` needs nothing outside itself."""
        return render(
            TEMPLATE,
            target,
            language=LANGUAGE,
            title=self.title,
            footer=f"Aftersit, {self.title}",
            number=self.number,
            scripts=control_scripts() if target == "screen" and self._controls else (),
            control_css=chart_css(),
            **self._values,
        )

    def pdf(self) -> bytes:
        """The page as a tagged PDF."""
        return html_to_pdf(self.html("print"), TEMPLATES)

    def write(self, html_path: Path) -> None:
        """Write `clinician.html` and the PDF beside it."""
        write_atomically(html_path, self.html())
        write_atomically(html_path.with_suffix(".pdf"), self.pdf())


def _part(inputs: SittingInputs, replay: Replayed, number: int) -> ProtocolPart:
    scored = replay.record.status == "scored" and replay.record.cleaned is not None
    if not scored:
        return ProtocolPart(replay, title(replay), False)
    shown = any(c.change_db is not None for b in replay.record.breaks for c in b.changes)
    return ProtocolPart(
        replay,
        title(replay),
        True,
        timeline=figures_timeline.timeline(inputs, replay, f"timeline{number}"),
        obstacles=figures_reward.obstacles(replay, f"obstacles{number}"),
        changes=figures_reward.break_changes(replay, f"changes{number}") if shown else None,
        control=control(inputs, replay, f"control{number}"),
        advised=not felt_unpleasant(inputs.sheet),
    )


def _spectra(inputs: SittingInputs) -> Picture | None:
    if inputs.spectra is None or not figures_spectra.shown_electrodes(inputs):
        return None
    return figures_spectra.spectra(inputs, "spectra")


def _review_date(inputs: SittingInputs) -> str | None:
    return day(inputs.review.date, inputs.clinic.language) if inputs.review else None
