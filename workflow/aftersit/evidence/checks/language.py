"""Language and accessibility: reading level, contrast, structure of pages and PDFs."""

import io
import re
from html.parser import HTMLParser
from string import Formatter

from aftersit.evidence import readability
from aftersit.evidence.check import check
from aftersit.evidence.contrast import contrast
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, at_least, at_most, near, same
from aftersit.pages import pdf, style, template
from aftersit.pages.words import Words, load_words

FILLED = {
    "practice": "kind wishes",
    "place": "the back of your head",
    "low": "8",
    "high": "13",
    "n": "3",
    "total": "2 minutes",
    "longest": "20 seconds",
    "usable": "9 minutes",
}
HOSTILE = '<script>alert("a&b")</script>'


def leaves(part: object) -> list[str]:
    """All sentences of a part of the words."""
    if isinstance(part, str):
        return [part]
    values = part.values() if isinstance(part, dict) else [value for _, value in part]
    return [leaf for value in values for leaf in leaves(value)]


def filled(sentence: str) -> str:
    """A sentence with its placeholders filled, ended by a stop."""
    names = {name for _, name, _, _ in Formatter().parse(sentence) if name}
    text = sentence.format(**{name: FILLED.get(name, "some") for name in names})
    return text if text[-1] in ".:" else f"{text}."


def told(words: Words) -> dict[str, str]:
    """What a handout can say, part by part."""
    handout = words.handout
    parts = {
        "looked": handout.look,
        "went": handout.how,
        "next": handout.try_next,
        "can't tell": handout.cant_tell,
        "cautions": words.caution,
    }
    return {name: " ".join(map(filled, leaves(part))) for name, part in parts.items()}


@check("language", "grade-formula", "The grade formula gives its worked values")
def grade_formula(given: Given, fact: Fact) -> Result:
    found = [readability.kincaid_grade(*row[:3]) for row in fact["sentences_words_syllables_grade"]]
    return near(found, [row[3] for row in fact["sentences_words_syllables_grade"]], abs=0.006)


@check("language", "handout-grade", "All that a handout can say reads at the sixth grade or below")
def handout_grade(given: Given, fact: Fact) -> Result:
    text = " ".join(told(load_words("en", None)).values())
    return at_most(
        [readability.grade_en(text), readability.ari(text)], fact["grade"], "school grade"
    )


@check("language", "part-grade", "No part of a handout is above the eighth grade")
def part_grade(given: Given, fact: Fact) -> Result:
    found = [readability.grade_en(text) for text in told(load_words("en", None)).values()]
    return at_most(found, fact["grade"], "school grade")


@check("language", "german-grade", "The German handout reads at the sixth school year or below")
def german_grade(given: Given, fact: Fact) -> Result:
    text = " ".join(told(load_words("de", None)).values())
    return at_most(readability.wstf1(text), fact["grade"], "school year")


@check(
    "language",
    "german-formula",
    "The German grade is another library's, but for counting syllables",
    needs=("textstat",),
)
def german_formula(given: Given, fact: Fact) -> Result:
    from textstat import textstat

    text = " ".join(told(load_words("de", None)).values())
    textstat.set_lang("de")
    try:
        theirs = textstat.wiener_sachtextformel(text, 1)
    finally:
        textstat.set_lang("en_US")
    return near(readability.wstf1(text), theirs, abs=fact["school_years"], unit="school years")


@check("language", "sentences", "No sentence for clients is longer than twenty words")
def sentences(given: Given, fact: Fact) -> Result:
    longest = max(
        len(one.split())
        for language in ("en", "de")
        for text in told(load_words(language, None)).values()
        for one in readability.sentences(text)
    )
    return at_most(longest, fact["words_at_most"], "words")


@check(
    "language",
    "no-diagnosis",
    "No handout sentence diagnoses, treats, cures or calls a brain normal",
)
def no_diagnosis(given: Given, fact: Fact) -> Result:
    found = []
    for language, pattern in fact["patterns"].items():
        for line in leaves(load_words(language, None).handout):
            found += re.findall(pattern, line, re.IGNORECASE)
    return same(found, [])


@check("language", "cautions", "The cautions say: not diagnostic, stop, and see a clinician")
def cautions(given: Given, fact: Fact) -> Result:
    missing = []
    for language, needed in fact["needed"].items():
        text = " ".join(load_words(language, None).cautions)
        missing += [words for words in needed if words not in text]
    return same(missing, [])


@check("language", "contrast-formula", "The contrast formula gives the guideline's known ratios")
def contrast_formula(given: Given, fact: Fact) -> Result:
    found = [contrast(colour, "#ffffff") for colour in fact["on_white"]]
    return near(found, list(fact["on_white"].values()), abs=0.006)


@check(
    "language",
    "text-contrast",
    "Every colour of text stands out enough from the paper",
    fact="contrast-formula",
)
def text_contrast(given: Given, fact: Fact) -> Result:
    used = style.tokens()
    found = [
        contrast(used[name], used[behind])
        for name in ("ink", "quiet", "deep", "middle")
        for behind in ("paper", "wash")
    ]
    return at_least([*found, contrast(used["ochre"], used["paper"])], fact["text_at_least"])


@check("language", "escaping", "Text from outside never becomes markup in a page")
def escaping(given: Given, fact: Fact) -> Result:
    page = template.environment().from_string("<p>{{ text }}</p>").render(text=HOSTILE)
    return same(page, f"<p>{fact['escaped']}</p>")


class _Outline(HTMLParser):
    """Language, title, images without text, headings, tables and cells of a page."""

    def __init__(self, html: str):
        super().__init__()
        self.lang, self.no_alt, self.levels, self.heads, self.tables = None, 0, [], 0, 0
        self.outside = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list) -> None:
        given = dict(attrs)
        if tag == "html":
            self.lang = given.get("lang")
        if tag == "img" and not given.get("alt"):
            self.no_alt += 1
        if re.fullmatch(r"h[1-6]", tag):
            self.levels.append(int(tag[1]))
        self.tables += tag == "table"
        self.heads += tag == "th" and given.get("scope") in ("col", "row")
        source = given.get("src") or (given.get("href") if tag == "link" else None) or ""
        if source and not source.startswith("data:"):
            self.outside.append(source)


@check(
    "language", "page-structure", "A page names its language, skips no heading and heads its tables"
)
def page_structure(given: Given, fact: Fact) -> Result:
    from aftersit.evidence.page import sample

    found = _Outline(sample())
    skipped = [b for a, b in zip(found.levels, found.levels[1:], strict=False) if b > a + 1]
    headed = found.tables > 0 and found.heads >= 2 * found.tables
    return same(
        {
            "language": found.lang,
            "first": found.levels[0],
            "skipped": skipped,
            "no alternative": found.no_alt,
            "tables headed": headed,
            "outside": found.outside,
        },
        {
            "language": "en",
            "first": 1,
            "skipped": [],
            "no alternative": 0,
            "tables headed": True,
            "outside": [],
        },
    )


@check(
    "language", "pdf-ua", "A PDF says its part of the standard, is tagged, titled, in a language"
)
def pdf_ua(given: Given, fact: Fact) -> Result:
    data = _objects(_pdf())
    return same([mark for mark in fact["marks"] if mark.encode() not in data], [])


@check(
    "language", "pdf-fonts", "All fonts of a PDF are embedded", needs=("pikepdf",), fact="pdf-ua"
)
def pdf_fonts(given: Given, fact: Fact) -> Result:
    import pikepdf

    with pikepdf.open(io.BytesIO(_pdf())) as document:
        fonts = [o for o in document.objects if isinstance(o, pikepdf.Dictionary)
                 and o.get("/Type") == "/FontDescriptor"]  # fmt: skip
        embedded = [any(f"/FontFile{k}" in f for k in ("", "2", "3")) for f in fonts]
        return same([len(fonts) > 0, all(embedded), document.Root.Lang], [True, True, "en"])


@check("language", "pdf-same-bytes", "The same page makes the same PDF, without a date")
def pdf_same_bytes(given: Given, fact: Fact) -> Result:
    one, other = _pdf(), _pdf()
    dated = [key for key in fact["keys"] if key.encode() in _objects(one)]
    return same([one == other, dated], [True, []])


def _pdf() -> bytes:
    values = {"title": "Tried", "language": "en", "footer": "Tried"}
    return pdf.html_to_pdf(template.render("base.html", "print", **values), style.TEMPLATES)


def _objects(data: bytes) -> bytes:
    """A PDF's objects with their streams unpacked."""
    import zlib

    out = [data]
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
        try:
            out.append(zlib.decompressobj().decompress(match[1]))
        except zlib.error:
            continue
    return b"\n".join(out)
