"""What intake has to say of an upload: problems that stop it, notes that do not."""

from dataclasses import dataclass

from aftersit.errors import AftersitError


@dataclass(frozen=True)
class Problem:
    """One reason to set an upload aside, in plain words.

    `found` never repeats free text, names of files or patient fields.
    """

    code: str
    place: str
    found: str
    todo: str


@dataclass(frozen=True)
class Note:
    """Something that a user may want to know; the upload is accepted."""

    code: str
    text: str


class UploadError(AftersitError):
    """An upload that can't be processed as it is."""

    def __init__(self, *problems: Problem):
        self.problems = problems
        super().__init__("; ".join(f"{p.place}: {p.found} ({p.todo})" for p in problems))

    def __reduce__(self):
        return type(self), self.problems


EXPORT_AGAIN = "export the recording again from the amplifier's software, as EDF+ if you can"
EXPORT_PARTS = "export each part as an upload of its own"
EXPORT_WHOLE = "export the recording as one file"
