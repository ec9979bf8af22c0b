"""Published readability formulas, as the checks use them."""

from aftersit.evidence.readability import (
    ari,
    grade_en,
    kincaid_grade,
    sentences,
    syllables_en,
    wstf1,
)

__all__ = ["ari", "grade_en", "kincaid_grade", "sentences", "syllables_en", "wstf1"]
