"""What an invented sitting is given: clinic, sheet, protocol and the account of cleaning."""

import numpy as np

from aftersit.protocol import Protocol
from aftersit.quality import Quality
from aftersit.sheet import Sheet

ELECTRODES = (
    *("Fp1", "Fp2", "F7", "F3", "Fz", "F4", "F8", "T7", "C3", "Cz"),
    *("C4", "T8", "P7", "P3", "Pz", "P4", "P8", "O1", "O2"),
)
BAD = {"F8": ("noisy",), "P7": ("flat",)}

CLINIC = {
    "name": "Lindenhof Practice (invented)",
    "contact": {
        "who": "The front desk",
        "phone": "+00 1 234 5678",
        "urgent": "Call your local emergency number.",
    },
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}

SHEET = {
    "client": "K07",
    "practice": "compassion",
    "protocol": "warm-attention",
    "eyes": "closed",
    "instruction": "Rest with the breath, then let warmth spread.",
    "notes": "Came straight from work; jaw felt tight at first.",
    "message": "Lovely to see you settle after the pause.",
    "ratings": {"before": {"calm": 4, "tired": 5}, "after": {"calm": 7, "tired": 4}},
    "blocks": [
        {"kind": "baseline", "start": "0:00", "end": "2:00"},
        {"kind": "practice", "start": "2:05", "end": "6:30"},
        {
            "kind": "break",
            "start": "6:30",
            "end": "7:20",
            "remark": "Suggested softening jaw and brow; less trying.",
        },
        {
            "kind": "practice",
            "start": "7:20",
            "end": "12:00",
            "instruction": "Let go of the breath; stay with warmth.",
            "live_thresholds": [{"condition": "insula", "value": 4.2}],
        },
        {"kind": "rest", "start": "12:00", "end": "13:00"},
    ],
}

PROTOCOL = {
    "name": "warm-attention",
    "version": 2,
    "title": "Warm attention",
    "purpose": "Rewards fast activity seen from the right insula while jaw and brow stay quiet.",
    "practices": ["compassion"],
    "literature": "Lutz et al. 2008, PLoS ONE 3:e1897.",
    "conditions": [
        {
            "name": "insula-gamma",
            "where": {"region": "insula", "hemisphere": "right"},
            "band_hz": [35, 45],
            "direction": "above",
            "threshold": {"db_over_baseline": 1.0},
        },
        {
            "name": "cingulate-alpha",
            "where": {"region": "caudalanteriorcingulate"},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"db_over_baseline": 0.5},
        },
        {
            "name": "jaw-quiet",
            "where": {"electrodes": ["T7", "T8"]},
            "band_hz": [30, 45],
            "direction": "below",
            "threshold": {"absolute": 6.0},
        },
    ],
}


def protocol(**changes) -> Protocol:
    return Protocol.checked({**PROTOCOL, **changes}, "sample protocol")


def sheet(**changes) -> Sheet:
    return Sheet.checked({**SHEET, **changes}, "sample sheet")


def quality(**changes) -> Quality:
    good = [n for n in ELECTRODES if n not in BAD]
    rng = np.random.default_rng(11)
    components = [
        ("muscle", 0.91, True, 0.12),
        ("muscle", 0.83, True, 0.07),
        ("eye", 0.97, True, 0.22),
        *[("brain", 0.8, False, 0.03)] * 9,
        *[("other", 0.5, False, 0.02)] * 4,
    ]
    topographies = rng.normal(size=(len(components), len(good))).round(3)
    identity = np.eye(len(good)).tolist()
    data = {
        "rate_hz": 256.0,
        "duration_s": 780.0,
        "mains_hz": 50.0,
        "carried": {"low_hz": 1.0, "high_hz": 100.0, "notches_hz": [[49.0, 51.0]]},
        "electrodes": [
            {"name": n, "good": n not in BAD, "reasons": BAD.get(n, ())} for n in ELECTRODES
        ],
        "bad_spans": [
            {"start_s": 40.0, "stop_s": 43.5, "reason": "movement", "electrodes": ["T7", "T8"]},
            {"start_s": 301.0, "stop_s": 309.25, "reason": "movement"},
            {"start_s": 620.5, "stop_s": 622.0, "reason": "pop", "electrodes": ["C3"]},
        ],
        "components": [
            {
                "label": label,
                "probability": p,
                "removed": removed,
                "variance_share": share,
                "topography": row,
            }
            for (label, p, removed, share), row in zip(components, topographies, strict=True)
        ],
        "keep": identity,
        "muscle": identity,
        "eyes": identity,
        "usable_s": 766.75,
        "scorable": True,
    }
    return Quality.model_validate({**data, **changes})
