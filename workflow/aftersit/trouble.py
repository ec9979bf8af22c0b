"""What went wrong, in words that may stand in a log: codes, places and kinds, no free text."""

import errno
import traceback

_IN_WORDS = {
    errno.ENOSPC: "no space is left on the disk; make room on it",
    errno.EDQUOT: "this user's share of the disk is used up; make room on it",
    errno.EROFS: "the disk can only be read, not written; check how it is mounted",
    errno.EACCES: "this user may not read or write a file that is needed; check the permissions",
    errno.EPERM: "this user may not change a file that is needed; check the permissions",
    errno.EIO: "the disk reports an error; it may be failing",
    errno.ENOMEM: "the machine has too little memory",
    errno.EMFILE: "too many files are open",
    errno.ENOENT: "a file that is needed is not there any more",
    errno.ENOTDIR: "a file lies where a folder is needed; move it away",
    errno.EISDIR: "a folder lies where a file is needed; move it away",
    errno.ENAMETOOLONG: "a name is too long for the disk; shorten it",
}


def in_words(error: OSError) -> str:
    """An error of the system, without the name of the file."""
    known = _IN_WORDS.get(error.errno)
    return known or f"the system reports {errno.errorcode.get(error.errno, type(error).__name__)}"


def where(error: BaseException) -> str:
    """Where an error arose and its kind; its text may hold what a sheet says."""
    frames = "".join(traceback.format_tb(error.__traceback__))
    return f"{frames}{type(error).__name__}"
