"""Open recordings of people who were awake, as far as anyone knows: no suspicion.

Their authors asked for rest and mental arithmetic (first set) and for open eyes (second);
nobody scored them for drowsiness, and the eyes of the first set are taken as closed.
"""

import pytest
from open_edf import read_edf
from simulated import SETTINGS

from aftersit.blocks import Block
from aftersit.clean.run import clean_recording
from aftersit.clean.slow_eyes import carries_rolling, slow_copy
from aftersit.replay.drowsy import drowsiness
from aftersit.settings import load_settings
from aftersit.sheet import Kind

pytestmark = pytest.mark.open_data
MENTAL = [f"Subject{person:02d}_{part}" for person in range(4) for part in (1, 2)]


def judged(raw, limits, eyes):
    quality = clean_recording(raw, limits, 50.0, SETTINGS, 20260301).quality
    block = Block(1, Kind.PRACTICE, 0.0, quality.duration_s, eyes, "none")
    (told,) = drowsiness(quality.drowsy, (block,), (), load_settings("s1").replay.drowsy).blocks
    return told


@pytest.mark.parametrize("name", [name for name in MENTAL if name.endswith("_1")])
def test_rest_is_not_suspected(open_data, name):
    told = judged(*read_edf(open_data / "mental-arithmetic" / f"{name}.edf"), "closed")
    assert (told.verdict, told.suspected_s) == ("no-sign-found", 0.0)
    assert told.reasons == ("slow-waves-not-recorded",)
    assert told.looked_s > 140


def test_a_minute_with_open_eyes_can_not_be_told(open_data):
    told = judged(*read_edf(open_data / "motor-imagery-baseline" / "S001R01.edf"), "open")
    # The recording's still end leaves less than the minute that a level takes.
    assert (told.verdict, told.suspected_s) == ("cant-tell", 0.0)
    assert told.reasons == ("no-level", "eyes-open")


@pytest.mark.parametrize(
    ("file", "carried"),
    [(f"mental-arithmetic/{name}.edf", False) for name in MENTAL]
    + [("motor-imagery-baseline/S001R01.edf", True)],
)
def test_the_spectrum_alone_tells_the_high_pass_of_the_header(open_data, file, carried):
    """The first set's headers name 0.5 Hz, the other's none (DATA-2, DATA-4)."""
    raw, _ = read_edf(open_data / file)
    raw.pick("eeg")
    copy = slow_copy(raw.get_data() * 1e6, raw.ch_names, raw.info["sfreq"])
    assert carries_rolling(copy, None) is carried
