"""The demo clinic's people and sittings, as data. All of it is invented."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from demo_clinic.spans import Span

Spec = dict[str, object]


@dataclass(frozen=True)
class Person:
    """An invented client; name and birth date stand in recording headers only, to be scrubbed."""

    name: str
    born: dt.date
    sex: Literal["F", "M"]
    consent: tuple[bool, dt.date]
    alpha_hz: float
    alpha_uv2: float
    """Power at O1/O2 with closed eyes, average reference."""
    background_uv2: float
    """Power in 30-45 Hz, mean over electrodes, average reference."""


@dataclass(frozen=True)
class Pattern:
    """How a condition comes and goes in a block."""

    on_s: float
    off_s: float
    margin_db: float = 2.5
    """How far past its threshold a condition gets; negative: it never gets there."""


@dataclass(frozen=True)
class Block:
    """A block of the sheet, and what the simulated person does in it.

    One pattern is shared by all conditions of the protocol; with several, each
    condition goes by its own. None: nothing beyond the background.
    """

    kind: str
    start: str
    end: str
    patterns: tuple[Pattern | None, ...] = (None,)
    eyes: str | None = None
    instruction: str | None = None
    remark: str | None = None
    clench: Pattern | None = None
    """Jaw tension in bursts; `margin_db` is not used."""
    thresholds: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Faults:
    """What goes wrong in a recording; sizes in uV (root mean square unless a pop)."""

    mains_uv: float = 2.0
    drift_uv: float = 15.0
    pops: tuple[tuple[str, float, float], ...] = ()
    """Electrode, second, size."""
    dead: str | None = None
    noisy: str | None = None
    bad: tuple[str, ...] = ()
    """Electrodes with hardly any contact."""
    movement: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Sitting:
    """An upload of the demo clinic."""

    upload: str
    client: str
    starts: dt.datetime
    minutes: float
    rate_hz: int
    file: Literal["edf", "edf+", "bdf", "brainvision"]
    practice: str
    protocol: str
    eyes: str
    blocks: tuple[Block, ...]
    sheet: Spec
    labels: Literal["plain", "old", "clutter", "old-clutter"] = "plain"
    extra: tuple[Literal["ECG", "EOG"], ...] = ()
    annotated: bool = False
    """Blocks and the room's sound stand as annotations in the recording."""
    tension_uv2: dict[str, float] = field(default_factory=dict)
    """Constant muscle tension: power in 30-45 Hz at the electrode that hears most."""
    clench_uv2: float = 60.0
    drowsy: tuple[Span, ...] = ()
    faults: Faults = Faults()
    blinks_per_minute: float = 15.0
    """With open eyes; a tenth of it with closed ones."""
    story: str = ""
    """What the sitting is there to show."""


PEOPLE = {
    "K07": Person(
        "Kara_Inventa",
        dt.date(1981, 5, 14),
        "F",
        (True, dt.date(2026, 1, 20)),
        10.2,
        55.0,
        0.55,
    ),
    "M12": Person(
        "Milo_Inventa",
        dt.date(1974, 11, 2),
        "M",
        (True, dt.date(2026, 1, 27)),
        9.4,
        30.0,
        0.7,
    ),
    "B31": Person(
        "Berta_Inventa",
        dt.date(1992, 8, 23),
        "F",
        (False, dt.date(2026, 2, 2)),
        10.8,
        90.0,
        0.6,
    ),
    "T05": Person(
        "Timo_Inventa",
        dt.date(1966, 3, 9),
        "M",
        (True, dt.date(2026, 2, 3)),
        8.9,
        45.0,
        0.5,
    ),
    "H22": Person(
        "Hanna_Inventa",
        dt.date(1988, 1, 30),
        "F",
        (True, dt.date(2026, 2, 24)),
        10.0,
        40.0,
        0.6,
    ),
}

CALM = {"jaw-left": 0.6, "jaw-right": 0.5, "brow": 0.5}
"""Tension of a person at ease, about as strong as the brain at these electrodes."""


def _breath_counting(
    on_s: float, off_s: float, remark: str, clench: Pattern | None = None
) -> tuple[Block, ...]:
    pattern = (Pattern(on_s, off_s),)
    return (
        Block("baseline", "00:00", "02:00", instruction="Sit, eyes closed, nothing to do"),
        Block(
            "practice", "02:00", "05:30", pattern, clench=clench, thresholds=(("as shown", 7.5),)
        ),
        Block("break", "05:30", "06:00", remark=remark),
        Block(
            "practice", "06:00", "09:30", pattern, clench=clench, thresholds=(("as shown", 7.5),)
        ),
        Block("rest", "09:30", "10:00"),
    )


SITTINGS = (
    Sitting(
        upload="tue-0930-k07",
        client="K07",
        starts=dt.datetime(2026, 2, 3, 9, 34),
        minutes=10,
        rate_hz=256,
        file="edf+",
        practice="focused-attention",
        protocol="steady-focus",
        eyes="closed",
        blocks=_breath_counting(7, 9, "Sat more upright; asked whether the sound was too loud"),
        sheet={
            "instruction": "Count breaths from one to ten",
            "age": 44,
            "sex": "female",
            "handedness": "right",
            "notes": "First sitting. Came by bicycle, a little out of breath at the start.",
            "message": "You found the sound several times today. Next time we sit a little longer.",
            "ratings": {"before": {"calm": 4, "awake": 7}, "after": {"calm": 6, "awake": 7}},
        },
        tension_uv2=CALM,
        story="a clean ordinary sitting with repeated bouts",
    ),
    Sitting(
        upload="thu-1100-m12",
        client="M12",
        starts=dt.datetime(2026, 2, 5, 11, 2),
        minutes=9,
        rate_hz=500,
        file="brainvision",
        practice="loving-kindness",
        protocol="warm-heart",
        eyes="closed",
        blocks=(
            Block("baseline", "00:00", "02:00"),
            Block(
                "practice",
                "02:00",
                "08:30",
                instruction="Wish a friend well, in words of your own",
                remark="Sound played a lot from the first minute on",
                clench=Pattern(9, 7),
            ),
            Block("rest", "08:30", "09:00"),
        ),
        sheet={
            "age": 51,
            "sex": "male",
            "handedness": "right",
            "notes": "Very keen. Leans forward, lips pressed together while trying.",
            "message": "Thank you for your patience with the cap.",
            "ratings": {"before": {"calm": 5, "warmth": 4}, "after": {"calm": 5, "warmth": 6}},
            "unpleasant": ["headache"],
        },
        tension_uv2={"jaw-left": 1.2, "jaw-right": 1.0, "brow": 1.0},
        clench_uv2=60.0,
        faults=Faults(mains_uv=4.0),
        story="the rise in the protocol's band is jaw muscle only",
    ),
    Sitting(
        upload="tue-1500-b31",
        client="B31",
        starts=dt.datetime(2026, 2, 10, 15, 5),
        minutes=10,
        rate_hz=256,
        file="bdf",
        practice="open-monitoring",
        protocol="wide-noticing",
        eyes="open",
        blocks=(
            Block("baseline", "00:00", "02:00", eyes="closed"),
            Block("practice", "02:00", "05:45", (Pattern(8, 10),)),
            Block("break", "05:45", "06:15", remark="Asked to soften the gaze"),
            Block("practice", "06:15", "10:00", (Pattern(8, 10),)),
        ),
        sheet={
            "instruction": "Notice whatever comes, eyes resting on the floor",
            "age": 33,
            "sex": "female",
            "notes": "Baseline was taken with closed eyes by mistake.",
            "ratings": {"before": {"calm": 6}, "after": {"calm": 6}},
        },
        labels="clutter",
        extra=("EOG",),
        tension_uv2={"jaw-left": 0.8, "jaw-right": 0.8, "brow": 1.5},
        faults=Faults(drift_uv=40.0),
        story="the baseline has another eyes state than the practice",
    ),
    Sitting(
        upload="thu-1730-t05",
        client="T05",
        starts=dt.datetime(2026, 2, 12, 17, 31),
        minutes=12,
        rate_hz=250,
        file="edf+",
        practice="automatic-self-transcending",
        protocol="quiet-settling",
        eyes="closed",
        blocks=(
            Block("baseline", "00:00", "02:00"),
            Block("practice", "02:00", "07:00", (Pattern(8, 8),)),
            Block("break", "07:00", "07:30", remark="Head had dropped; opened the window"),
            Block("practice", "07:30", "12:00", (Pattern(6, 14),)),
        ),
        sheet={
            "instruction": "Let the word come and go without effort",
            "age": 59,
            "sex": "male",
            "notes": "Came straight from a night shift.",
            "message": "Coming rested will help more than trying harder.",
            "ratings": {"before": {"awake": 3, "calm": 5}, "after": {"awake": 2, "calm": 7}},
        },
        extra=("ECG",),
        tension_uv2=CALM,
        drowsy=((255.0, 300.0), (345.0, 412.0), (530.0, 585.0), (640.0, 690.0)),
        story="drowsy spells: slow rolling eyes, alpha drops out, theta rises",
    ),
    Sitting(
        upload="tue-0930-k07-b",
        client="K07",
        starts=dt.datetime(2026, 2, 17, 9, 31),
        minutes=12,
        rate_hz=256,
        file="bdf",
        practice="focused-attention",
        protocol="steady-focus",
        eyes="closed",
        blocks=(
            Block("baseline", "00:00", "02:00"),
            Block(
                "practice",
                "02:00",
                "06:40",
                (Pattern(3, 22),),
                instruction="Count breaths from one to ten",
            ),
            Block("break", "06:40", "07:20", remark="Counting felt like work; changed to feeling"),
            Block(
                "practice",
                "07:20",
                "12:00",
                (Pattern(14, 5, 3.5),),
                instruction="Feel the breath at the nostrils, no counting",
            ),
        ),
        sheet={
            "age": 44,
            "sex": "female",
            "notes": "Asked for another way in after the first half.",
            "message": "Feeling the breath suited you well today; try five minutes a day that way.",
            "ratings": {"before": {"calm": 4, "awake": 6}, "after": {"calm": 7, "awake": 7}},
        },
        tension_uv2=CALM,
        faults=Faults(pops=(("P3", 201.0, 180.0), ("C4", 533.5, -150.0))),
        story="after the break with a changed instruction the first condition's region changes",
    ),
    Sitting(
        upload="thu-1100-m12-b",
        client="M12",
        starts=dt.datetime(2026, 2, 26, 11, 0),
        minutes=9,
        rate_hz=250,
        file="edf",
        practice="compassion",
        protocol="warm-heart",
        eyes="closed",
        blocks=(
            Block("baseline", "00:00", "02:00", (Pattern(30, 2, 4.0),)),
            Block("practice", "02:00", "05:30", (Pattern(8, 8, -1.0),)),
            Block("break", "05:30", "06:00", remark="No sound so far; jaw loosened, tongue down"),
            Block("practice", "06:00", "09:00", (Pattern(8, 8, -1.0),)),
        ),
        sheet={
            "instruction": "Think of someone who has a hard time and wish them relief",
            "age": 52,
            "notes": "Says he began at once, while the baseline was still running. "
            "Disappointed that the sound hardly came.",
            "message": "The bar was set too high today. We will change it before the next sitting.",
            "ratings": {"before": {"calm": 6, "warmth": 5}, "after": {"calm": 4, "warmth": 5}},
            "unpleasant": ["agitation"],
        },
        labels="old",
        tension_uv2=CALM,
        story="the threshold was out of reach: the region was active during the baseline",
    ),
    Sitting(
        upload="tue-0930-k07-c",
        client="K07",
        starts=dt.datetime(2026, 3, 3, 9, 36),
        minutes=10,
        rate_hz=256,
        file="edf+",
        practice="focused-attention",
        protocol="steady-focus",
        eyes="closed",
        blocks=_breath_counting(11, 8, "Short stretch", Pattern(4, 40)),
        sheet={
            "instruction": "Feel the breath at the nostrils",
            "age": 44,
            "sex": "female",
            "message": "The stretches with sound were longer than in the weeks before.",
            "ratings": {"before": {"calm": 5, "awake": 7}, "after": {"calm": 7, "awake": 7}},
        },
        labels="old-clutter",
        annotated=True,
        tension_uv2=CALM,
        clench_uv2=25.0,
        story="blocks and the room's sound stand as annotations; old electrode names",
    ),
    Sitting(
        upload="thu-1730-t05-b",
        client="T05",
        starts=dt.datetime(2026, 3, 5, 17, 33),
        minutes=8,
        rate_hz=250,
        file="brainvision",
        practice="quiet-rest",
        protocol="soft-alpha",
        eyes="closed",
        blocks=(
            Block("practice", "00:00", "03:50", (Pattern(7, 7),)),
            Block("break", "03:50", "04:10"),
            Block("practice", "04:10", "08:00", (Pattern(7, 7),)),
        ),
        sheet={
            "instruction": "Rest, eyes closed",
            "age": 59,
            "sex": "male",
            "notes": "Late start, so no baseline today.",
            "not_for_research": True,
        },
        tension_uv2=CALM,
        faults=Faults(pops=(("O1", 305.0, 140.0),)),
        story="no baseline block",
    ),
    Sitting(
        upload="tue-1500-b31-b",
        client="B31",
        starts=dt.datetime(2026, 3, 10, 15, 1),
        minutes=8,
        rate_hz=250,
        file="edf",
        practice="open-monitoring",
        protocol="wide-noticing",
        eyes="open",
        blocks=(
            Block("baseline", "00:00", "02:00"),
            Block("practice", "02:00", "08:00", (Pattern(8, 10),)),
        ),
        sheet={
            "instruction": "Notice whatever comes",
            "age": 33,
            "sex": "female",
            "notes": "Cap too large; it kept slipping. Building works next door.",
            "message": "Thank you for staying. We will take the smaller cap next time.",
        },
        labels="clutter",
        tension_uv2={"jaw-left": 90.0, "jaw-right": 110.0, "brow": 60.0, "neck": 80.0},
        blinks_per_minute=28.0,
        faults=Faults(
            mains_uv=25.0,
            drift_uv=150.0,
            bad=("Fp1", "F7", "F4", "T7", "C3", "Cz", "T8", "P3", "Pz", "P8", "O2"),
            movement=((10.0, 115.0), (124.0, 210.0), (220.0, 330.0), (338.0, 470.0)),
        ),
        story="too noisy to score",
    ),
    Sitting(
        upload="tue-0930-k07-d",
        client="K07",
        starts=dt.datetime(2026, 3, 17, 9, 32),
        minutes=10,
        rate_hz=250,
        file="edf+",
        practice="focused-attention",
        protocol="steady-focus",
        eyes="closed",
        blocks=_breath_counting(16, 7, "One electrode refilled, without success"),
        sheet={
            "instruction": "Feel the breath at the nostrils",
            "age": 44,
            "sex": "female",
            "notes": "P4 gave no signal, F8 jumped about all the time.",
            "ratings": {"before": {"calm": 6, "awake": 6}, "after": {"calm": 8, "awake": 7}},
        },
        tension_uv2=CALM,
        faults=Faults(dead="P4", noisy="F8", pops=(("C3", 288.0, 220.0),)),
        story="one dead and one noisy electrode; the fourth sitting of one client",
    ),
)

BROKEN = Sitting(
    upload="thu-1000-h22",
    client="H22",
    starts=dt.datetime(2026, 3, 12, 10, 4),
    minutes=5,
    rate_hz=256,
    file="edf",
    practice="focused-attention",
    protocol="steady-focus",
    eyes="closed",
    blocks=(
        Block("baseline", "00:00", "02:00"),
        Block("practice", "01:30", "05:00", (Pattern(7, 8),)),
    ),
    sheet={"instrucion": "Count breaths from one to ten", "age": 38},
    story="broken on purpose: a misspelt key and overlapping blocks",
)
"""An upload that intake must set aside."""
