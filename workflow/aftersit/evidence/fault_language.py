"""Deliberate faults in wording, pages and what leaves the clinic."""

from aftersit.evidence.fault_parts import returning, scaled
from aftersit.evidence.faults import Fault

WORD = "The electroencephalographic interpretation necessitates considerable circumspection. "

LANGUAGE = (
    Fault(
        "grade-constants",
        ("language",),
        "the grade formula has another constant",
        (("aftersit.evidence.readability.kincaid_grade", lambda f: lambda *a: f(*a) + 5),),
    ),
    Fault(
        "hard-words",
        ("language",),
        "sentences for clients become hard to read",
        (("aftersit.evidence.checks.language.filled", lambda f: lambda s: (WORD * 3)[:-1]),),
    ),
    Fault(
        "hard-german",
        ("language",),
        "German sentences become hard to read",
        (
            (
                "aftersit.evidence.checks.language.filled",
                lambda f: (
                    lambda s: (
                        "Aufmerksamkeitsbeeinträchtigungen verursachen "
                        "Interpretationsschwierigkeiten, Wahrnehmungsveränderungen, "
                        "Verständigungsprobleme und Entscheidungsunfähigkeiten überall."
                    )
                ),
            ),
        ),
    ),
    Fault(
        "german-counts",
        ("language",),
        "German syllables are counted double",
        (("aftersit.evidence.readability.syllables_de", scaled(2)),),
    ),
    Fault(
        "long-sentences",
        ("language",),
        "sentences are joined by commas",
        (("aftersit.evidence.checks.language.filled", lambda f: lambda s: f(s).replace(".", ",")),),
    ),
    Fault(
        "a-diagnosis",
        ("language",),
        "a sentence speaks of a diagnosis",
        (
            (
                "aftersit.evidence.checks.language.leaves",
                lambda f: lambda part: [*f(part), "This is your diagnosis."],
            ),
        ),
    ),
    Fault(
        "cautions-lost",
        ("language",),
        "the cautions are left out",
        (("aftersit.pages.words.Words.cautions", lambda p: ()),),
    ),
    Fault(
        "knee-lost",
        ("language",),
        "contrast is taken without the curve of screens",
        (
            (
                "aftersit.evidence.contrast.luminance",
                lambda f: lambda c: sum(int(c[i : i + 2], 16) for i in (1, 3, 5)) / 765,
            ),
        ),
    ),
    Fault(
        "pale-text",
        ("language",),
        "text is pale",
        (("aftersit.pages.style.tokens", lambda f: lambda: f() | {"quiet": "#9aa3b0"}),),
    ),
    Fault(
        "unescaped",
        ("language",),
        "text from outside is not escaped",
        (("aftersit.pages.template.environment", lambda f: lambda: f().overlay(autoescape=False)),),
    ),
    Fault(
        "no-language",
        ("language",),
        "pages and PDFs have no language and no header cells",
        (
            ("aftersit.pages.template.render", lambda f: lambda *a, **k: _bare(f(*a, **k))),
            ("aftersit.evidence.page.render", lambda f: lambda *a, **k: _bare(f(*a, **k))),
        ),
    ),
    Fault(
        "plain-pdf",
        ("language",),
        "PDFs are not tagged",
        (("aftersit.pages.pdf.VARIANT", returning(None)),),
    ),
    Fault(
        "dated-pdf",
        ("language",),
        "PDFs hold the time at which they were made",
        (("aftersit.pages.pdf.html_to_pdf", lambda f: lambda *a: _dated(f(*a))),),
    ),
)


def _bare(page: str) -> str:
    return page.replace(' lang="en"', "").replace(' scope="col"', "")


_COUNT = iter(range(10**6))


def _dated(data: bytes) -> bytes:
    return data + b"%% /CreationDate %d" % next(_COUNT)


ARCHIVE = (
    Fault(
        "other-checksum",
        ("archive",),
        "checksums skip the last byte",
        (("aftersit.evidence.checks.archive.sha256", lambda f: _short_sum),),
    ),
    Fault(
        "header-kept",
        ("archive", "bids"),
        "the file's patient field is copied along",
        (
            (
                "aftersit.bids.write.channels_tsv",
                lambda f: lambda r: f(r) + "Haagse_Harry MCH-0234567 1951-05-02\n",
            ),
        ),
    ),
    Fault(
        "notes-kept",
        ("archive", "bids"),
        "private notes and ages over 89 are copied along",
        (
            (
                "aftersit.bids.write.eeg_json",
                lambda f: lambda *a: f(*a) | {"Notes": "private-notes\t93\t"},
            ),
        ),
    ),
    Fault(
        "a-clock-inside",
        ("archive",),
        "the time of writing stands in a file",
        (("aftersit.bids.write.eeg_json", lambda f: lambda *a: f(*a) | {"Written": next(_COUNT)}),),
    ),
    Fault(
        "real-address",
        ("archive",),
        "the demo clinic has an address that somebody may own",
        (
            (
                "demo_clinic.papers.as_yaml",
                lambda f: lambda x: f(x).replace("example.org", "clinic.net"),
            ),
        ),
    ),
)


def _short_sum(paths) -> str:
    import hashlib

    return hashlib.sha256(b"".join(p.read_bytes() for p in paths)[:-1]).hexdigest()
