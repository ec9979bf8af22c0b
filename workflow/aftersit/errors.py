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


class NotUtf8Error(InvalidFileError):
    """A file of people that is saved in another encoding.

    Parameters
    ----------
    where : str
        The file, as the user knows it.
    line : int
        Of the first byte that is not UTF-8, from 1.
    """

    def __init__(self, where: str, line: int):
        self.line = line
        super().__init__(where, [f"line {line} is not UTF-8 text; save the file as UTF-8"])

    def __reduce__(self):
        return type(self), (self.where, self.line)
