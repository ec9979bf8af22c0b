"""The wording itself: short, plain, kind, and claiming nothing."""

import re

import pytest
import readability
import textstat
from handout_cases import cases

from aftersit.pages.phrases import story
from aftersit.pages.words import load_words

CASES = cases()
LANGUAGES = ["de", "en"]

# Words that claim what a recording can't show, praise, blame, or come from the trade.
FORBIDDEN = {
    "en": r"""diagnos(?:e|es|ed|is)\b|treat(?:s|ed|ment)?\b|cure[sd]?\b|heal(?:s|ed|ing)?\b|therap|
        normal|abnormal|disorder|patient|improve|proves?\b|because|caused?\s+by|
        great|excellent|amazing|perfect|well\sdone|proud|impressive|success|
        fail|fault|wrong\b|bad\b|poor|lazy|should|must\b|try\sharder""",
    "de": r"""diagnostizier|behandel|heil|therap|normal|störung|patient|beweis|verbesser|weil\b|
        toll|super|perfekt|stolz|ausgezeichnet|erfolg|
        versag|fehler|falsch|schlecht|faul\b|sollst|\bmusst\b(?!\skeinen)""",
}
JARGON = {
    "en": r"""eeg|electrode|frequenc|amplitude|cortex|cortical|insula|cingulate|threshold|artefact|
        artifact|baseline|protocol|spectr|decibel|\bdb\b|component|alpha|gamma|theta|reward|\bbouts?\b|
        lapse|replay|neurofeedback|montage|impedance|feedback|source|sloreta""",
    "de": r"""eeg|elektrode|frequenz|amplitude|kortex|insula|schwellwert|schwelle|artefakt|baseline|
        protokoll|spektr|dezibel|\bdb\b|komponente|alpha|gamma|theta|belohnung|feedback|quelle""",
}


def handout_words(language):
    words = load_words(language, None)
    text = {"caution": words.caution, "practice": words.practice, "handout": words.handout}
    return [leaf for part in text.values() for leaf in _leaves(part)]


def _leaves(part):
    if isinstance(part, str):
        return [part]
    values = part.values() if isinstance(part, dict) else [v for _, v in part]
    return [leaf for value in values for leaf in _leaves(value)]


def said(language, records, unpleasant):
    """The running text of a handout, each listed condition as a sentence."""
    words = load_words(language, None)
    told = story(records, unpleasant)
    parts = (told.looked, told.conditions, told.goal, told.care, told.went, told.next, told.cannot)
    lines = [words.say(p.key, **p.values) for part in parts for p in part]
    lines += words.cautions
    return [line if line[-1] in ".:" else f"{line}." for line in lines]


@pytest.mark.parametrize(
    ("word", "count"),
    [  # counts as dictionaries hyphenate them
        ("signals", 2), ("recording", 3), ("practised", 2), ("times", 1), ("wishes", 2),
        ("muscle", 2), ("diagnostic", 4), ("unpleasant", 3), ("information", 4), ("goal", 1),
        ("being", 2), ("seizures", 2), ("medicine", 3), ("licensed", 2), ("started", 2),
    ],
)  # fmt: skip
def test_the_syllable_counter_counts_like_a_dictionary(word, count):
    assert readability.syllables_en(word) == count


@pytest.mark.parametrize("name", CASES)
def test_every_branch_reads_at_grade_6_or_below(name):
    text = " ".join(said("en", *CASES[name]))
    assert readability.grade_en(text) <= 6
    assert readability.ari(text) <= 6


@pytest.mark.parametrize("name", CASES)
def test_a_library_of_formulas_says_the_same(name):
    """textstat's Coleman-Liau index (1975, J Appl Psychol 60:283) and automated readability
    index for English, first Vienna formula for German: the ones that need no list of words."""
    english, german = (" ".join(said(language, *CASES[name])) for language in ("en", "de"))
    textstat.set_lang("en_US")
    assert textstat.coleman_liau_index(english) <= 6
    assert textstat.automated_readability_index(english) <= 6
    textstat.set_lang("de_DE")
    assert textstat.wiener_sachtextformel(german, 1) <= 6


@pytest.mark.parametrize("name", CASES)
def test_no_section_is_above_grade_8(name):
    # NIH asks for below grade 8 in material for the public.
    words, told = load_words("en", None), story(*CASES[name])
    for part in (told.looked, told.goal, (*told.care, *told.went), told.next, told.cannot):
        text = " ".join(words.say(p.key, **p.values) for p in part)
        assert readability.grade_en(text) <= 8, text
    assert readability.grade_en(" ".join(words.cautions)) <= 8


@pytest.mark.parametrize("name", CASES)
def test_every_branch_reads_easily_in_german(name):
    assert readability.wstf1(" ".join(said("de", *CASES[name]))) <= 6


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_is_longer_than_20_words(language):
    for line in handout_words(language):
        for one in readability.sentences(line):
            assert len(one.split()) <= 20, one


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_filled_sentence_is_longer_than_20_words(language, name):
    for line in said(language, *CASES[name]):
        for one in readability.sentences(line):
            assert len(one.split()) <= 20, one


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_claim_praise_blame_or_jargon(language):
    for pattern in (FORBIDDEN[language], JARGON[language]):
        for line in handout_words(language):
            found = re.search(pattern, line, re.IGNORECASE | re.VERBOSE)
            assert found is None, f"{found}: {line}"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_of_the_story_is_used_by_a_branch(language):
    used = {
        phrase.key
        for records, unpleasant in CASES.values()
        for part in vars(story(records, unpleasant)).values()
        for phrase in part
    }
    handout = load_words(language, None).handout
    known = {
        f"handout.{section}.{key}"
        for section in ("look", "how", "try_next", "cant_tell")
        for key, value in getattr(handout, section)
        if isinstance(value, str)
    }
    assert known - used == {"handout.look.more", "handout.look.one_more"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_cautions_say_what_they_must(language):
    needed = {
        "en": ("training and information", "not", "diagnostic", "seizures or illness", "stop",
               "doctor", "licensed clinician", "ocal rules"),
        "de": ("Training und zur Information", "kein", "Diagnosen", "Anfälle oder Krankheiten",
               "hör auf", "ärztliche Hilfe", "Ärztin", "Regeln für solches Training"),
    }  # fmt: skip
    text = " ".join(load_words(language, None).cautions)
    assert [words for words in needed[language] if words not in text] == []
