"""All pages of one sitting, from one reading of its results."""

import datetime as dt
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.night.kept_settings import clinic_settings
from aftersit.pages.clinician import Clinician
from aftersit.pages.handout import HandoutInputs, write_handout
from aftersit.pages.inputs import SittingFiles, read_sitting
from aftersit.pages.review import reviewed
from aftersit.pages.software import software
from aftersit.pages.words import clinic_words


def write_pages(
    clinic: Clinic,
    sitting: SittingId,
    date: dt.date,
    settings: str,
    files: SittingFiles,
    folder: Path,
) -> None:
    """Read a sitting's results and write its report and its handout.

    Parameters
    ----------
    clinic, sitting, date
        Whose sitting, which one, and when it was.
    settings : str
        Label of the settings version that the records come from.
    files : SittingFiles
        What the pages are made from.
    folder : Path
        Where `clinician.html`, `clinician.pdf` and `handout.pdf` are written.

    Raises
    ------
    AftersitError
        A file is missing or broken, or Pango is not installed.
    """
    review = reviewed(clinic, sitting, files.reviewed)
    used, own = clinic_settings(clinic, settings), clinic.read_settings()
    inputs = read_sitting(files, own, used, date, software(), review)
    words = clinic_words(clinic, inputs.clinic.language)
    Clinician(inputs, words.cautions).write(folder / "clinician.html")
    write_handout(HandoutInputs.of(inputs, sitting, words), folder / "handout.pdf")
