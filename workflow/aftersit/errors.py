"""Errors that a user can act on."""


class AftersitError(Exception):
    """What is wrong, where, and what to do; shown without a traceback."""


class InvalidFileError(AftersitError):
    """A settings, sheet or protocol file that breaks its rules.

    Parameters
    ----------
    where : str
        The file, as the user knows it.
    problems : list of str
        One line each: place, value found, what is allowed.
    """

    def __init__(self, where: str, problems: list[str]):
        self.where = where
        self.problems = problems
        super().__init__(f"{where}: " + "; ".join(problems))
