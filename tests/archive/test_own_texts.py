"""The sentences of a bag are the project's own to the scan, whatever stands in a sheet."""

import json
import re

import pytest
from sample_given import protocol

from aftersit.archive.collect import _add_value, _printed, secrets_of
from aftersit.archive.folding import own_rows, rows, tokens
from aftersit.archive.partner import read_partner
from aftersit.archive.secrets import COMMON_SHINGLE, SHINGLE, Secrets
from aftersit.archive.textsearch import TextSearch
from aftersit.bids.tables import read_tsv
from demo_clinic import papers
from demo_clinic.scenario import SITTINGS

SENTENCE_WORDS = 4


def texts_in(value):
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from texts_in(inner)
    elif isinstance(value, str):
        yield value


@pytest.fixture(scope="module")
def sentences(made, bag):
    """Texts of at least four words in JSON and tables, but the partner's and the clinic's own."""
    found = set()
    for path in bag.rglob("*.json"):
        found.update(texts_in(json.loads(path.read_text())))
    for path in bag.rglob("*descriptions.tsv"):
        found.update(cell for row in read_tsv(path.read_text()) for cell in row.values())
    partner = read_partner(made, "north")
    names = re.compile("|".join(f": {condition.name}$" for condition in protocol().conditions))
    told = {names.sub("", text) for text in found}
    told -= {partner.title, f"{partner.title}: cleaned", *_printed(partner)}
    return {text for text in told if text.count(" ") >= SENTENCE_WORDS - 1}


@pytest.mark.parametrize("length", [SHINGLE, COMMON_SHINGLE])
def test_all_words_in_a_row_of_a_bags_sentences_are_the_projects_own(sentences, length):
    assert len(sentences) > 80
    assert any("not measured on this person" in text for text in sentences)
    strange = {
        " ".join(row)
        for text in sentences
        for row in rows(tokens(text), length)
        if row not in own_rows(length)
    }
    assert strange == set()


@pytest.mark.parametrize("sitting", SITTINGS, ids=lambda sitting: sitting.upload)
def test_no_sentence_of_the_demo_clinics_sheets_stands_in_a_bag(sentences, sitting):
    """A friend wished well "in words of your own" once stopped every export."""
    secrets = Secrets()
    _add_value("sheet", papers.sheet(sitting), secrets)
    assert secrets.phrases
    search = TextSearch(secrets)
    assert {kind for text in sentences for kind in search.kinds(text)} == set()


def test_a_finding_says_whose_sheet_holds_the_words_and_names_no_upload(clinic):
    """Folders of uploads are often called after people."""
    aside = clinic.set_aside / "Philippa-tue"
    aside.mkdir(parents=True)
    (aside / "sitting.yaml").write_text("notes: Came with her neighbour Ermintrude\n")
    secrets = secrets_of(clinic, read_partner(clinic, "north"), set())
    assert secrets.words["ermintrude"] == "a text of a sheet in set-aside/"
    assert secrets.phrases["spoke", "of", "philippa"] == "a text of the sheet of K07/01 (r1)"
