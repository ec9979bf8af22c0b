"""Published readability formulas, for checks of wording."""

import re

VOWELS = "aeiouy"


def sentences(text: str) -> list[str]:
    """Sentences that hold words."""
    return [s for s in re.split(r"(?<=[.!?:])\s+", text.strip()) if words(s)]


def words(text: str) -> list[str]:
    """Words; numbers and units are left out, since the formulas are about words."""
    found = re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", text)
    return [w for w in found if w not in ("Hz",)]


def syllables_en(word: str) -> int:
    """Vowel groups, less a silent e; the usual count by rule (common practice, no source)."""
    word = re.sub(r"[^a-z]", "", word.lower())
    groups = len(re.findall(rf"[{VOWELS}]+", word))
    silent = re.search(r"[^aeiouyl]e$|[^aeiouytd]ed$|[^aeiouyscxzgh]es$", word)
    between = len(re.findall(r"(?<![tscg])i[ao]|u[ao]|[aeiouy]ing$", word))
    return max(1, groups - bool(silent) + between)


def syllables_de(word: str) -> int:
    """Vowel groups, with German diphthongs as one."""
    return max(1, len(re.findall(r"ei|ai|au|eu|äu|ie|aa|ee|oo|[aeiouyäöü]", word.lower())))


def kincaid_grade(n_sentences: int, n_words: int, n_syllables: int) -> float:
    """Kincaid et al. 1975: 0.39 words/sentence + 11.8 syllables/word - 15.59."""
    return 0.39 * n_words / n_sentences + 11.8 * n_syllables / n_words - 15.59


def grade_en(text: str) -> float:
    """School grade of an English text."""
    found = words(text)
    return kincaid_grade(len(sentences(text)), len(found), sum(map(syllables_en, found)))


def ari(text: str) -> float:
    """Automated readability index, Smith & Senter 1967: 4.71 letters/word + 0.5 w/s - 21.43."""
    found = words(text)
    letters = sum(len(re.sub(r"\W", "", w)) for w in found)
    return 4.71 * letters / len(found) + 0.5 * len(found) / len(sentences(text)) - 21.43


def wstf1(text: str) -> float:
    """First Vienna formula, Bamberger & Vanecek 1984, as a school grade (from memory)."""
    found = words(text)
    long = 100 * sum(syllables_de(w) >= 3 for w in found) / len(found)
    short = 100 * sum(syllables_de(w) == 1 for w in found) / len(found)
    letters = 100 * sum(len(w) > 6 for w in found) / len(found)
    length = len(found) / len(sentences(text))
    return 0.1935 * long + 0.1672 * length + 0.1297 * letters - 0.0327 * short - 0.875
