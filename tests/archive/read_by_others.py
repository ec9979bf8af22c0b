"""What others' tools say of the bag that was made of a night: the same of every night."""

import pytest
from others_tools import hed_finds, read_tables, validator_finds

from crate_validator import contexts, problems, take_network_away


class ReadByOthers:
    """What holds of the bag of any night; a module has the fixtures `bag` and `n_sittings`."""

    PARTS = pytest.mark.parametrize("part", ["data/bids", "data/bids/derivatives/cleaned"])

    @PARTS
    def test_the_official_validator_finds_no_error_and_no_warning_without_a_reason(self, bag, part):
        assert validator_finds(bag / part) == []

    @PARTS
    def test_hedtools_finds_no_error_in_events_and_sidecars(self, bag, n_sittings, part):
        assert hed_finds(bag / part, n_tables=n_sittings) == []

    # The validator's own packages warn of their future.
    @pytest.mark.filterwarnings("ignore")
    def test_the_validator_of_crates_requires_nothing_more(self, bag, monkeypatch):
        asked = take_network_away(monkeypatch)
        assert problems(bag / "data", "process-run-crate") == []
        assert set(asked) <= set(contexts())

    def test_pandas_reads_every_table_as_its_dictionary_says(self, bag):
        seen = read_tables(bag)
        assert seen >= {"bandpower.json", "regions.json", "spectra.json", "aperiodic.json"}
        assert seen >= {"timeline.json", "participants.json", "sessions.json", "scans.json"}
