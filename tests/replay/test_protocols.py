import re
from pathlib import Path

import jsonschema
import pytest
import yaml
from cases import TWO, condition, protocol, replay, sitting

from aftersit.electrodes import STANDARD_19
from aftersit.errors import InvalidFileError
from aftersit.head.region_set import shipped_regions
from aftersit.places import check_regions
from aftersit.protocol import Protocol, load_protocol, versions
from aftersit.replay.files import plain
from aftersit.replay.schemas import FOLDER, PUBLISHED, write_schemas
from aftersit.settings import load_settings
from aftersit.sheet import Practice

PROTOCOLS = Path(__file__).parents[2] / "config" / "protocols"
STARTERS = ["quiet-settling", "soft-alpha", "steady-focus", "warm-heart", "wide-noticing"]


def starters() -> list[Protocol]:
    return [load_protocol(PROTOCOLS, name, 1) for name in STARTERS]


def test_the_starter_set_is_whole():
    assert sorted(p.name for p in PROTOCOLS.iterdir()) == STARTERS
    assert all(versions(PROTOCOLS, name) == [1] for name in STARTERS)


def test_every_practice_has_a_starter():
    assert {p for s in starters() for p in s.practices} == set(Practice) - {Practice.OTHER}


@pytest.mark.parametrize("starter", starters(), ids=STARTERS)
def test_starters_can_run_on_the_montage(starter):
    for c in starter.conditions:
        if c.where.key not in shipped_regions().keys:
            assert set(c.where.electrodes) <= set(STANDARD_19)
        assert c.band_hz[1] <= 45  # many recordings are filtered at 45 Hz
        assert abs(c.threshold.db_over_baseline) <= 2


@pytest.mark.parametrize("starter", starters(), ids=STARTERS)
def test_starters_print_their_bands_with_limits_and_their_caveats(starter):
    # Bands go by different limits in different papers.
    for low, high in {c.band_hz for c in starter.conditions} - {(30, 45)}:
        assert f"{low:g}-{high:g} Hz" in starter.purpose
    assert re.search(r"Caveats|small|tiny", starter.literature)
    assert re.search(r"\b(19|20)\d\d\b", starter.literature)


ELECTRODES = {"electrodes": ["Fz", "Cz"]}


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"where": ELECTRODES | {"hemisphere": "left"}}, "where.hemisphere: unknown key"),
        (
            {"where": {"region": "insula", "measure": "sLORETA"}},
            "where.measure: found 'sLORETA'; allowed: sloreta, selective",
        ),
        (
            {"threshold": {"absolute": 2, "db_over_baseline": 3}},
            "threshold.db_over_baseline: unknown key",
        ),
        (
            {"threshold": {"adaptive": {"target_rate": 0.6, "speed_db_per_min": 2}}},
            "threshold.adaptive.start: missing",
        ),
        (
            {"where": {"electrodes": ["T3", "Cz"]}},
            "where.electrodes: there is no electrode 'T3'; it is called T7 here",
        ),
        (
            {"where": {"electrodes": ["fz"]}},
            "where.electrodes: there is no electrode 'fz'; it is called Fz here",
        ),
        (
            {"where": {"electrodes": ["Cz", "Fz", "Cz"]}},
            "where.electrodes: 'Cz' stands there twice, and would count twice",
        ),
        (
            {"where": {"electrodes": "O1"}},
            "where.electrodes: found 'O1'; a list is needed; write [O1]",
        ),
        (
            {"where": {"electrodes": "O1, O2"}},
            "where.electrodes: found 'O1, O2'; a list is needed; write [O1, O2]",
        ),
        ({"where": {"electrodes": []}}, "where.electrodes: at least 1 item, not 0"),
        ({"band_hz": "8-12"}, "band_hz: found '8-12'; a list is needed; write [8, 12]"),
        ({"band_hz": [8, 12, 13]}, "band_hz: at most 2 items, not 3"),
        (
            {"band_hz": ["7,5", 12]},
            "band_hz.1: found '7,5'; in a number write a point, not a comma: 7.5",
        ),
        (
            {"threshold": {"absolut": 6.5}},
            "threshold: found the key absolut; did you mean 'absolute'?; allowed: absolute: ... "
            "or db_over_baseline: ... or percentile_of_baseline: ... or adaptive: ...",
        ),
        (
            {"threshold": {"db_over_base": 3}},
            "threshold: found the key db_over_base; did you mean 'db_over_baseline'?; allowed: abs",
        ),
        (
            {"threshold": {"xyz": 3, "adaptiv": 4}},
            "threshold: found the key xyz, adaptiv; did you mean 'adaptive'?; allowed: absolute",
        ),
        ({"threshold": {}}, "threshold: found no key; allowed: absolute: ... or "),
        ({"threshold": 6.5}, "threshold: found 6.5; allowed: absolute: ... or "),
        (
            {"where": {"regions": "insula"}},
            "where: found the key regions; did you mean 'region'?; allowed: region: ... or elec",
        ),
        (
            {"band_hz": [10.1, 10.9]},
            "band_hz is [low, high] with 0.5 <= low, and 1 Hz between them",
        ),
    ],
)
def test_an_error_of_a_condition_says_its_place_and_nothing_else(changes, line):
    data = protocol().model_dump(mode="json", exclude_none=True)
    data["conditions"].append(data["conditions"][0] | {"name": "second"} | changes)
    with pytest.raises(InvalidFileError) as error:
        Protocol.checked(data, "v2.yaml")
    (found,) = error.value.problems
    assert found.startswith("conditions.2")
    assert line in found


@pytest.mark.parametrize(
    ("region", "hint"),
    [
        ("insulla", "did you mean 'insula'?"),
        ("insula-right", "write region: insula and hemisphere: right"),
    ],
)
def test_a_region_that_is_not_measured_is_refused_with_the_nearest(region, hint):
    rules = protocol(TWO[0], condition("second", {"region": region}))
    with pytest.raises(InvalidFileError) as error:
        check_regions(rules, shipped_regions())
    (found,) = error.value.problems
    assert found.startswith(f"conditions.2.where.region: there is no region '{region}'; {hint}")


def test_smoothing_is_a_whole_number_of_updates():
    data = protocol().model_dump(mode="json")
    data["timing"].update(smoothing_s=0.7, update_s=0.25)
    with pytest.raises(InvalidFileError) as error:
        Protocol.checked(data, "v2.yaml")
    assert "smoothing_s must be a whole number of update_s (0.25); the nearest is 0.75" in str(
        error.value
    )


def test_published_schemas_are_those_of_the_models(tmp_path):
    write_schemas(tmp_path)
    for name in PUBLISHED:
        assert (FOLDER / name).read_bytes() == (tmp_path / name).read_bytes(), (
            f"{name} is out of date; run python -m aftersit.replay.schemas"
        )


def validator(name):
    schema = yaml.safe_load((FOLDER / name).read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_records_and_starters_keep_to_the_published_schemas():
    # An outside validator judges, not the models.
    refused = condition("fast", band=(50, 61))
    for conditions in (TWO, (*TWO, refused)):
        record = replay(sitting(), protocol(*conditions)).record
        validator("record.schema.json").validate(plain(record))
    for name in STARTERS:
        validator("protocol.schema.json").validate(
            yaml.safe_load((PROTOCOLS / name / "v1.yaml").read_text())
        )


def test_the_published_record_schema_is_closed():
    record = plain(replay(sitting(), protocol(*TWO)).record)
    record["quality"]["note"] = "x"
    with pytest.raises(jsonschema.ValidationError, match="'note' was unexpected"):
        validator("record.schema.json").validate(record)


def test_the_shipped_settings_are_read():
    assert load_settings("s1").replay.settle_energy == 0.99
