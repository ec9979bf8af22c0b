"""The demo's drowsy sitting through cleaning and the rule, against its own truth."""

from pathlib import Path

import pytest

from aftersit.bench.sittings import as_raw
from aftersit.blocks import Block
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import clean_recording
from aftersit.protocol import load_protocol
from aftersit.replay.drowsy import drowsiness
from aftersit.replay.spans import overlap_s
from aftersit.settings import load_settings
from aftersit.sheet import Kind
from demo_clinic.make import PROTOCOLS, SEED
from demo_clinic.people import PEOPLE
from demo_clinic.plan import block_span
from demo_clinic.scenario import SITTINGS
from demo_clinic.simulate import simulate

pytestmark = pytest.mark.slow


def judged(upload: str, sources):
    """Truth and finding of one of the demo's sittings."""
    (sitting,) = [s for s in SITTINGS if s.upload == upload]
    protocol = load_protocol(Path(PROTOCOLS), sitting.protocol, 1)
    made = simulate(sitting, PEOPLE[sitting.client], protocol, sources, SEED)
    blocks = [
        Block(i, Kind(b.kind), *block_span(b), b.eyes or sitting.eyes, protocol.name)
        for i, b in enumerate(sitting.blocks, 1)
    ]
    settings = load_settings("s1")
    raw = as_raw(made.signal_uv, sources.electrodes, sitting.rate_hz)
    cleaned = clean_recording(raw, ChannelLimits(), 50.0, settings.clean, settings.seed)
    return made.truth, drowsiness(cleaned.quality.drowsy, blocks, (), settings.replay.drowsy)


def test_the_drowsy_sitting_is_suspected_where_it_is_drowsy(sources):
    truth, found = judged("thu-1730-t05", sources)
    spells = [tuple(span) for span in truth["drowsy_s"]]
    spans = [(s.start_s, s.stop_s) for s in found.spans]
    assert len(spells) == 4
    for start_s, stop_s in spells:
        assert overlap_s(spans, start_s, stop_s) > 0.85 * (stop_s - start_s)
    inside_s = sum(overlap_s(spans, a, b) for a, b in spells)
    assert sum(b - a for a, b in spans) - inside_s < 25
    assert all("slow-rolls" in s.signs and "theta-up" in s.signs for s in found.spans)
    drowsy = {b.index for b in found.blocks if b.verdict == "suspect"}
    # Spells at 4:15, 5:45, 8:50 and 10:40: practice blocks 2 and 4.
    assert drowsy == {2, 4}


def test_an_ordinary_sitting_is_not(sources):
    truth, found = judged("tue-0930-k07", sources)
    assert truth["drowsy_s"] == []
    assert found.spans == ()
    assert {b.verdict for b in found.blocks[:4]} == {"no-sign-found"}
