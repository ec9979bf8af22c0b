"""Regions, unions of regions, and a clinic's own file."""

import numpy as np
import pytest

from aftersit.errors import AftersitError, InvalidFileError
from aftersit.head.atlas import half_keys
from aftersit.head.region_set import RegionSet, read_regions, shipped_regions

REGION = np.array(["insula", "insula", "cuneus", "precuneus"])
SIDE = np.array(["left", "right", "right", "left"])


@pytest.fixture
def own(tmp_path):
    def write(text: str):
        path = tmp_path / "regions.yaml"
        path.write_text(text)
        return path

    return write


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("insula-right", [False, True, False, False]),
        ("insula-both", [True, True, False, False]),
        ("back-of-head-both", [False, False, True, True]),
        ("back-of-head-left", [False, False, False, True]),
    ],
)
def test_members_of_a_measure(key, expected):
    regions = RegionSet().with_unions({"back-of-head": ["cuneus", "precuneus"]})
    assert regions.members(key, REGION, SIDE).tolist() == expected


def test_halves_of_a_union_are_those_of_its_parts():
    regions = shipped_regions()
    named = [
        h for h, own in zip(half_keys(), regions.halves("orbitofrontal-left"), strict=True) if own
    ]
    assert named == ["lateralorbitofrontal-left", "medialorbitofrontal-left"]


def test_lobes_share_no_region():
    """Each region belongs to one lobe (FreeSurfer's mapping, from memory)."""
    parts = shipped_regions().parts
    lobes = [
        set(parts[f"{lobe}-lobe"]) for lobe in ("frontal", "parietal", "temporal", "occipital")
    ]
    # The paracentral lobule and the central strips' two sides are each in one lobe.
    assert sum(len(lobe) for lobe in lobes) == len(set.union(*lobes)) == 11 + 5 + 9 + 4


def test_names_with_hyphens_are_split_at_the_side():
    assert shipped_regions().split("anterior-cingulate-both") == ("anterior-cingulate", "both")


def test_clinic_adds_its_own(own):
    regions = read_regions(own("unions:\n  salience: [insula, caudalanteriorcingulate]\n"))
    assert len(regions.keys) == len(shipped_regions().keys) + 3
    assert regions.title("salience-right") == "salience"
    assert "salience-left" not in shipped_regions().keys


def test_without_a_file_the_shipped_ones_are_meant():
    assert read_regions(None) == shipped_regions()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("unions:\n  a-b: [insula, cunius]\n", "'a-b' holds 'cunius'.*did you mean 'cuneus'"),
        ("unions:\n  a-b: [insula, insula]\n", "'a-b' names a region twice"),
        ("unions:\n  a-b: [insula]\n", r"unions\.a-b: .*at least 2"),
        ("unions:\n  insula: [cuneus, fusiform]\n", "'insula' is a region of the atlas; give the"),
        ("unions:\n  my-left: [cuneus, fusiform]\n", "'my-left' ends with a side"),
        ("unions:\n  My: [cuneus, fusiform]\n", "small letters, digits and hyphens"),
        ("unions:\n  frontal-lobe: [cuneus, fusiform]\n", "one of this name already"),
        ("regions:\n  a-b: [insula, cuneus]\n", "regions: unknown key.*allowed: unions"),
        ("unions: [insula, cuneus]\n", "regions.yaml: unions: "),
    ],
)
def test_broken_files_say_what_is_wrong(own, text, message):
    with pytest.raises(InvalidFileError, match=message):
        read_regions(own(text))


def test_unknown_measure_names_the_nearest():
    with pytest.raises(
        AftersitError, match=r"no region measure 'insul-right'; nearest: insula-right"
    ):
        shipped_regions().split("insul-right")


def test_a_clinics_own_union_is_measured_beside_the_shipped_ones(own):
    path = own("unions:\n  salience: [insula, caudalanteriorcingulate]\n")
    assert set(shipped_regions().keys) < set(read_regions(path).keys)
    assert "salience-both" in read_regions(path).keys
    assert read_regions(None) == shipped_regions()
