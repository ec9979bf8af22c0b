"""The words files: complete, checked at load, open to a clinic's own sentences."""

import copy
import re

import pytest
import yaml

from aftersit.errors import AftersitError, InvalidFileError
from aftersit.pages.values import Duration, Word
from aftersit.pages.words import FOLDER, Words, known_languages, load_words

LANGUAGES = ["de", "en"]


def leaves(tree, place=()):
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from leaves(value, (*place, key))
        else:
            yield (*place, key), value


def shipped(language):
    return yaml.safe_load((FOLDER / f"{language}.yaml").read_text(encoding="utf-8"))


def own(tmp_path, text):
    path = tmp_path / "words.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_shipped_language_loads():
    assert known_languages() == LANGUAGES
    assert [load_words(language, None).language for language in LANGUAGES] == LANGUAGES


def test_languages_hold_the_same_keys_and_placeholders():
    held = [
        {place: set(re.findall(r"{(\w+)}", text)) for place, text in leaves(shipped(language))}
        for language in LANGUAGES
    ]
    assert held[0] == held[1]


@pytest.mark.parametrize("language", LANGUAGES)
def test_any_missing_sentence_is_an_error_at_load(language):
    tree = shipped(language)
    for place, _ in leaves(tree):
        if place[0] == "digest" and place[1] == "codes":
            continue  # a code without words is shown as a code
        broken = copy.deepcopy(tree)
        inner = broken
        for key in place[:-1]:
            inner = inner[key]
        del inner[place[-1]]
        with pytest.raises(InvalidFileError, match="missing") as raised:
            Words.checked(broken, "words")
        assert place[-1] in str(raised.value)


def test_a_clinic_changes_one_sentence_and_keeps_the_others(tmp_path):
    path = own(tmp_path, "handout:\n  how:\n    bout: 'Once, for {longest}, that is all.'\n")
    words = load_words("en", path)
    assert (
        words.say("handout.how.bout", longest=Duration(17)) == "Once, for 17 seconds, that is all."
    )
    assert words.handout.how.none == load_words("en", None).handout.how.none


def test_a_clinic_may_say_the_cautions_its_own_way(tmp_path):
    words = load_words("en", own(tmp_path, "caution:\n  rules: Our own rule.\n"))
    assert words.cautions[-1] == "Our own rule."
    assert len(words.cautions) == len(load_words("en", None).cautions)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("handout:\n  how:\n    bowt: x\n", r"handout\.how\.bowt: unknown key"),
        ("handuot: {}\n", "did you mean 'handout'"),
        ("handout:\n  how:\n    none: ''\n", r"handout\.how\.none: found ''"),
        ("handout:\n  how:\n    none: 5\n", r"handout\.how\.none: found 5"),
        ("handout:\n  how: fine\n", r"handout\.how: holds no sentence but the keys time,"),
        ("handout:\n  how:\n    none: {a: b}\n", r"handout\.how\.none: text is needed"),
        (
            "handout:\n  how:\n    bout: '{n} times'\n",
            r"'{n}' does not fit.*allowed here: {longest}",
        ),
        ("handout:\n  how:\n    none: '{n} times'\n", r"'{n}' does not fit.*allowed here: none"),
        (
            "handout:\n  how:\n    bout: '{longest.__class__}'\n",
            r"'{longest.__class__}' does not fit",
        ),
        ("handout:\n  how:\n    bout: '{longest:>99}'\n", r"'{longest}' does not fit"),
        ("handout:\n  how:\n    bout: '{longest!r}'\n", r"'{longest}' does not fit"),
        ("handout:\n  how:\n    bout: 'a { b'\n", "a curly bracket stands alone"),
        ('handout:\n  how:\n    none: "a\\nb"\n', "stands on one line"),
        ("practice:\n  napping: x\n", "practice.napping"),
        ("language: de\n", "language: set the language in clinic.yaml instead"),
    ],
)
def test_a_broken_own_file_says_where_and_what(tmp_path, text, message):
    with pytest.raises(InvalidFileError, match=f"^words.yaml: .*{message}"):
        load_words("en", own(tmp_path, text))


def test_an_unknown_language_names_the_known_ones():
    with pytest.raises(AftersitError, match="no words for the language 'xx'; there are: de, en"):
        load_words("xx", None)


def test_a_language_can_not_name_another_file():
    with pytest.raises(AftersitError, match=r"no words for the language '\.\./words/en'"):
        load_words("../words/en", None)


@pytest.mark.parametrize(
    ("seconds", "english", "german"),
    [
        (0.2, "1 second", "1 Sekunde"),
        (17.4, "17 seconds", "17 Sekunden"),
        (59.7, "1 minute", "1 Minute"),
        (95, "1 minute and 35 seconds", "1 Minute und 35 Sekunden"),
        (121, "2 minutes and 1 second", "2 Minuten und 1 Sekunde"),
        (599, "9 minutes and 59 seconds", "9 Minuten und 59 Sekunden"),
        (754, "13 minutes", "13 Minuten"),
    ],
)
def test_lengths_of_time_read_as_people_say_them(seconds, english, german):
    for language, expected in (("en", english), ("de", german)):
        said = load_words(language, None).say("handout.how.time_all", practice=Duration(seconds))
        assert expected in said


def test_numbers_follow_the_language():
    place = Word("place.side_right")
    for language, expected in (("en", "12.5"), ("de", "12,5")):
        words = load_words(language, None)
        assert f"{expected} Hz" in words.say("handout.look.above", low=8.0, high=12.5, place=place)


def test_a_value_is_never_read_as_a_sentence():
    words = load_words("en", None)
    assert words.say("handout.call_who", who="{who} {0}") == "For any question: {who} {0}"
