"""A client's progress: all sittings on one yardstick that never moves."""

from collections.abc import Sequence
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.files import write_atomically, write_json
from aftersit.night.plan import PlannedSitting
from aftersit.pages import tables_progress
from aftersit.pages.answers_progress import details, lead, yardstick_words
from aftersit.pages.figures_progress import course
from aftersit.pages.pdf import html_to_pdf
from aftersit.pages.progress_inputs import ProgressInputs, Sitting, read_progress
from aftersit.pages.style import TEMPLATES, Target
from aftersit.pages.template import render
from aftersit.pages.words import clinic_words

LANGUAGE = "en"
"""As the clinician's report; dates and cautions follow the clinic's language."""


class Progress:
    """One client's page, ready to be rendered for screen and print."""

    def __init__(self, inputs: ProgressInputs, cautions: Sequence[str]):
        self.inputs = inputs
        self._values = {
            "inputs": inputs,
            "lead": lead(inputs),
            "details": details(inputs),
            "yardstick": yardstick_words(inputs),
            "figure": course(inputs) if any(s.measured for s in inputs.sittings) else None,
            "tables": tables_progress,
            "cautions": cautions,
        }

    @property
    def title(self) -> str:
        """Title of the page: a code, no name."""
        return f"Progress of client {self.inputs.client}"

    def html(self, target: Target = "screen") -> str:
        """The page; `screen` needs nothing outside itself."""
        return render(
            "progress.html",
            target,
            language=LANGUAGE,
            title=self.title,
            footer=f"Aftersit, {self.title}",
            **self._values,
        )

    def data(self) -> dict:
        """The page's numbers, and which sittings they come from."""
        return {
            "client": self.inputs.client,
            "yardstick": [self.inputs.used.name, self.inputs.used.version],
            "made_from": self.inputs.own_texts,
            "sittings": [_data(s) for s in self.inputs.sittings],
        }

    def write(self, html_path: Path) -> None:
        """Write `progress.html`, the PDF and the numbers beside it."""
        write_atomically(html_path, self.html())
        pdf = html_to_pdf(self.html("print"), TEMPLATES)
        write_atomically(html_path.with_suffix(".pdf"), pdf)
        write_json(html_path.with_suffix(".json"), self.data())


def _data(sitting: Sitting) -> dict:
    found = sitting.measured
    return {
        "number": sitting.number,
        "revision": sitting.revision,
        "settings": sitting.settings,
        "not_counted": sitting.why_not,
        "in_target_share": found and found.share,
        "in_target_low": found and found.low,
        "in_target_high": found and found.high,
        "longest_bout_s": found and found.longest_s,
    }


def write_progress(
    clinic: Clinic,
    client: str,
    planned: Sequence[PlannedSitting],
    of: tuple[str, int],
    output: Path,
) -> None:
    """Read a client's sittings and write the page; see `read_progress`.

    Parameters
    ----------
    output : Path
        `progress.html`; PDF and numbers are written beside it.

    Raises
    ------
    AftersitError
        A file is missing or broken, or Pango is not installed.
    """
    inputs = read_progress(clinic, client, planned, of)
    Progress(inputs, clinic_words(clinic, inputs.clinic.language).cautions).write(output)
