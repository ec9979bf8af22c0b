"""What people write: the clinic's settings, the roster, sitting sheets and annotations."""

import numpy as np
import yaml

from demo_clinic.people import PEOPLE
from demo_clinic.plan import block_span
from demo_clinic.sitting import Block, Sitting
from demo_clinic.write import Annotation

ANNOTATION_TEXTS = {
    "Baseline": "baseline",
    "Training": "practice",
    "Pause": "break",
    "Rest": "rest",
}
REWARD_TEXT = "Sound on"
ROOM_DELAY_S = (0.4, 1.2)
"""How much later than the simulated state the room's sound starts and ends."""

CLINIC = {
    "name": "Inventa (invented demo clinic)",
    "contact": {
        "who": "The front desk of the invented demo clinic",
        "phone": "+44 1632 960123",
        "email": "desk@demo-clinic.example.org",
        "urgent": "Call your local emergency number.",
    },
    "mains_hz": 50,
    "language": "en",
    "time_zone": "Europe/London",
    "settings": "s1",
    "annotations": ANNOTATION_TEXTS,
    "reward_annotation": REWARD_TEXT,
}
"""`clinic.yaml`; the number lies in a range kept free for fiction, the address at a
domain kept free for examples (RFC 2606)."""


def as_yaml(data: dict) -> str:
    """YAML with keys in the given order."""
    return yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=90)


def roster() -> str:
    """`roster.csv`: consent by client and date."""
    rows = [
        f"{code},{'yes' if person.consent[0] else 'no'},{person.consent[1].isoformat()}"
        for code, person in PEOPLE.items()
    ]
    return "\n".join(["client,research_consent,date", *rows]) + "\n"


def sheet(sitting: Sitting) -> dict:
    """`sitting.yaml` as plain data."""
    head = {
        "client": sitting.client,
        "date": sitting.starts.date().isoformat(),
        "practice": sitting.practice,
        "protocol": sitting.protocol,
        "eyes": sitting.eyes,
    }
    blocks = "from-annotations" if sitting.annotated else [_block(b) for b in sitting.blocks]
    return head | sitting.sheet | {"blocks": blocks}


def _block(block: Block) -> dict:
    known = {
        "kind": block.kind,
        "start": block.start,
        "end": block.end,
        "eyes": block.eyes,
        "instruction": block.instruction,
        "remark": block.remark,
        "live_thresholds": [{"condition": c, "value": v} for c, v in block.thresholds],
    }
    return {key: value for key, value in known.items() if value}


def annotations(sitting: Sitting, truth: dict, rng: np.random.Generator) -> list[Annotation]:
    """Blocks and the room's sound, for a sitting that is annotated; else nothing."""
    if not sitting.annotated:
        return []
    texts = {kind: text for text, kind in ANNOTATION_TEXTS.items()}
    rows = []
    for block in sitting.blocks:
        start, stop = block_span(block)
        rows.append((start, stop - start, texts[block.kind]))
    for block in truth["target"]:
        for tile in block["tiles"]:
            if tile["in_target"]:
                start = tile["start_s"] + rng.uniform(*ROOM_DELAY_S)
                stop = tile["stop_s"] + rng.uniform(*ROOM_DELAY_S)
                rows.append((round(start, 3), round(stop - start, 3), REWARD_TEXT))
    return sorted(rows)
