"""Strings that try to get out of their place, put into every field that a page can print."""

import dataclasses

import sample_progress
import samples
from sample_given import CLINIC, PROTOCOL, SHEET, protocol, sheet

from aftersit.clinic import ClinicSettings
from aftersit.pages.digest import Done, Failed, Night, Reason, SetAside
from aftersit.pages.inputs import SittingInputs, Source
from aftersit.pages.progress_inputs import ProgressInputs
from aftersit.pages.review import Reviewed

SHORT = (
    # script, HTML, CSS, URL and template syntax; each within the shortest free field
    "<script>leak=1</script>",
    "<img src=x onerror=leak=1>",
    "</script><script>leak=1//",
    "</style><svg onload=leak=1>",
    '" onfocus=leak=1 autofocus x="',
    "javascript:leak=1",
    "{{ 7*191 }}{% raw %}${7*191}",
    "<a href=//evil.invalid>x</a>",
    "url(https://evil.invalid/x)",
    "<!-- ]]> &lt;b&gt; &amp;",
    "\u202eright to left\u202c",
    "👩‍👩‍👧 שלום مرحبا",
)
LONG = (
    "<iframe srcdoc='<script>parent.leak=1</script>'></iframe><object data=//evil.invalid></object>"
    "<link rel=stylesheet href=https://evil.invalid/x.css><meta http-equiv=refresh "
    'content="0;url=https://evil.invalid"><form action=https://evil.invalid><button>x</button>'
    "</form><style>*{background:url(https://evil.invalid/x)}</style><base href=//evil.invalid> "
    + " ".join(SHORT)
)
UNBROKEN = "W" * 300 + "ẇ̷̛͓̓" * 40
LENGTHY = f"{LONG} {UNBROKEN}\n\n{'And so on, for a long while. ' * 70}"[:4000]
CALCULATED = "1337"
"""What `7*191` would give, were it worked out."""


def short(i: int, most: int = 30) -> str:
    """One of the short strings, by its place; none is longer than the field."""
    return SHORT[i % len(SHORT)][:most]


def hostile_clinic(i: int = 0) -> ClinicSettings:
    contact = {
        "who": LONG[:120],
        "phone": short(i, 60),
        "email": short(i + 1, 120),
        "urgent": LONG[i : i + 200],
    }
    return ClinicSettings.checked({**CLINIC, "name": LONG[:120], "contact": contact}, "clinic")


def hostile_sheet():
    live = [{"condition": s, "value": 4.2, "unit": s[:40]} for s in SHORT]
    rows = [
        {**b, "instruction": LONG, "remark": LENGTHY, "live_thresholds": live}
        for b in SHEET["blocks"]
    ]
    return sheet(
        notes=LENGTHY, message=LENGTHY, instruction=LONG, blocks=rows, unpleasant=["anxiety"]
    )


def hostile_inputs() -> SittingInputs:
    """A sitting whose sheet, clinic, protocol, electrodes and software names are hostile."""
    base = samples.scored(sheet=hostile_sheet(), clinic=hostile_clinic())
    used = protocol(**{**PROTOCOL, "title": LONG[:80], "purpose": LONG[:600], "literature": LONG})
    replay = base.replays[0]
    good = (*replay.record.quality.good_electrodes, *SHORT)
    quality = replay.record.quality.model_copy(
        update={"good_electrodes": good, "bad_electrodes": dict.fromkeys(SHORT, ("noisy",))}
    )
    found = dataclasses.replace(
        replay, protocol=used, record=replay.record.model_copy(update={"quality": quality})
    )
    electrodes = [
        e.model_copy(update={"name": s}) if not e.good else e
        for e, s in zip(base.quality.electrodes, (*SHORT, *SHORT), strict=False)
    ]
    return dataclasses.replace(
        base,
        replays=(found,),
        quality=base.quality.model_copy(update={"electrodes": electrodes}),
        software={s: s for s in SHORT},
        sources=tuple(Source(s, s) for s in SHORT),
        review=Reviewed(short(0), base.date),
    )


def hostile_night() -> Night:
    """A night whose uploads, reasons and steps are hostile."""
    reasons = tuple(Reason(code=s, place=LONG, found=LENGTHY, todo=LONG) for s in SHORT)
    return Night(
        date="2026-03-14",
        clinic=LONG[:120],
        done=tuple(
            Done(
                sitting="K07/03", upload=s, protocols=(s,), status="scored", codes=(s,), pages=(s,)
            )
            for s in SHORT
        ),
        had_already=SHORT,
        set_aside=tuple(
            SetAside(upload=s, folder=s, reasons=reasons[:2]) for s in (*SHORT, UNBROKEN)
        ),
        waiting=(*SHORT, UNBROKEN),
        denied=(*SHORT, UNBROKEN),
        failed=tuple(Failed(sitting=s, stage=s, log=s, todo=LONG) for s in SHORT),
        to_review=("K07/03",),
        unpleasant=("K07/03",),
    )


def hostile_course() -> ProgressInputs:
    """Sittings whose clinic, protocol, electrodes and settings names are hostile."""
    used = protocol(**{**PROTOCOL, "title": LONG[:80], "purpose": LONG[:600]})
    record = samples.scored().replays[0].record
    bad = record.quality.model_copy(update={"bad_electrodes": dict.fromkeys(SHORT, ("noisy",))})
    records = [record.model_copy(update={"quality": bad})] * 3
    found = sample_progress.course(sample_progress.SHARES[:3], records, hostile_clinic(), used)
    sittings = [
        dataclasses.replace(s, settings=t) for s, t in zip(found.sittings, SHORT, strict=False)
    ]
    return dataclasses.replace(found, sittings=tuple(sittings))
