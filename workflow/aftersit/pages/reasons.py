"""Codes of quality and record in the clinician's words, each with what to do."""

# Codes: `quality.ElectrodeReason`.
ELECTRODE = {
    "missing": "not in the recording",
    "flat": "flat",
    "noisy": "noisy",
    "drifting": "drifting",
    "popping": "popping, loose contact",
    "bridged": "bridged with a neighbour by gel",
    "swapped": "looks swapped with another",
    "unrelated": "unrelated to its neighbours",
}

# Codes: `quality.SpanReason`.
SPAN = {
    "movement": "movement",
    "pop": "electrode pop",
    "clipping": "clipping out of the amplifier's range",
    "dropout": "dropout",
    "constant": "constant signal",
    "mains": "mains-like interference",
    "electrode": "an electrode failing for a while",
}

# Codes: `quality.Component`.
COMPONENT = {
    "brain": "brain",
    "muscle": "muscle",
    "eye": "eye",
    "heart": "heart",
    "mains": "mains",
    "channel": "single-electrode noise",
    "other": "of unclear origin",
}

# Codes: `record.Record.reasons` -> why, what to do.
NOT_SCORED = {
    "too-few-electrodes": (
        "too few electrodes served",
        "Check cap fit, gel and impedances before the next sitting.",
    ),
    "too-few-seconds": (
        "too few usable seconds were left",
        "Look at the reasons for lost seconds below; a longer or calmer recording is needed.",
    ),
    "all-conditions-refused": (
        "none of the protocol's conditions can be measured in this recording",
        "See each condition's reason below.",
    ),
    "a-condition-refused": (
        "some of the protocol's conditions can't be measured in this recording, "
        "and too few are left for its rule",
        "See the condition's reason below.",
    ),
    "no-practice-block": (
        "the sitting sheet names no practice block",
        "Correct the blocks on the sitting sheet and put it into the inbox again with the same "
        "recording.",
    ),
}

# Codes: `record.Refusal` -> why, what to do.
REFUSED = {
    "band-not-in-recording": (
        "the band is not in the recording",
        "Use a protocol whose band lies inside what the recording carries, or record with "
        "wider filters.",
    ),
    "no-baseline": (
        "the threshold counts from a baseline and the sitting has no usable baseline block",
        "Record a baseline next time, with the eyes as in the practice, or use a protocol with "
        "absolute thresholds.",
    ),
    "region-unknown": (
        "the region is not in the atlas that is used",
        "Correct the region's name in a new protocol version; aftersit regions lists them.",
    ),
    "electrode-missing": (
        "an electrode of the condition did not serve",
        "Check that electrode before the next sitting.",
    ),
}

# Codes: `record.Caution`.
CAUTION = {
    "baseline-eyes-differ": "baseline and practice differ in eyes open or closed, so the "
    "threshold may be too low or too high",
    "few-electrodes": "few electrodes served, so places are blurred more than usual",
    "baseline-short": "the baseline was short, so the threshold is uncertain",
}

# Codes: `record.DrowsySign`.
SIGN = {
    "alpha-out": "alpha out",
    "theta-up": "theta up",
    "slow-rolls": "eyes rolling slowly",
}

# Codes: `record.DrowsyReason` -> why, what to do.
DROWSY = {
    "too-few-seconds": (
        "too few of its seconds could be used",
        "Look at the reasons for lost seconds below.",
    ),
    "no-level": (
        "there is too little time with these eyes to know the person's own level",
        "Keep the eyes one way for longer than a minute in all.",
    ),
    "eyes-open": (
        "with open eyes alpha is low anyway, and only slow rolling of the eyes with theta "
        "could have shown",
        "Watch the client's eyes and posture.",
    ),
    "no-alpha": (
        "there is hardly any alpha that could drop out",
        "That is common and means nothing by itself; ask the client.",
    ),
    "not-measured": (
        "the recording is too short or was cleaned before drowsy signs were measured",
        "Clean it again with the present settings.",
    ),
    "no-posterior-electrodes": (
        "too few electrodes at the back served",
        "Check those electrodes before the next sitting.",
    ),
    "no-eye-electrodes": (
        "F7 or F8, or the electrodes that they are held against, did not serve",
        "Check those electrodes before the next sitting.",
    ),
    "slow-waves-not-recorded": (
        "the recording does not carry waves as slow as 0.2\N{EN DASH}0.6 Hz",
        "Record with a high-pass of 0.1 Hz or lower next time.",
    ),
}

# Codes: `record.DrowsyVerdict`.
VERDICT = {
    "no-sign-found": "no sign found",
    "suspect": "suspect",
    "cant-tell": "can't tell",
}

# Codes: `insight.lost.Reason`.
LOST = {
    "muscle": "muscle",
    "eyes": "the eyes",
    "electrode": "electrodes that were left out",
    "other": "other cleaning (heart, single electrodes, filters)",
    "bad-span": "bad spans",
    "gate": "the artefact gate",
    "timing": "onset or warm-up, which came later",
}

# Codes: `findings.NoAdvice`.
NO_ADVICE = {
    "too-little-known": "too little of the practice is known",
    "few-electrodes": "few electrodes served",
    "baseline-eyes-differ": "eyes differed between baseline and practice",
    "reward-mostly-removed": "most of the uncleaned reward went with cleaning",
    "muscle": "muscle is likely to have earned much of the reward",
    "muscle-cant-tell": "a condition is fast, and muscle can't be told from brain there",
    "drowsy": "much of the practice shows signs that often go with drowsiness",
    "sets-itself": "the thresholds set themselves or guard against muscle",
    "out-of-reach": "a condition that must not be eased fails too often",
}


# Codes: `counted.NotCounted`.
NOT_COUNTED = {
    "not-scored": "it could not be scored",
    "not-measured": "its baseline gives no level to count from",
    "eyes-differ": "eyes differed between baseline and practice",
    "mostly-removed": "most of the uncleaned reward went with cleaning",
    "electrodes-differ": "too many of its good electrodes differ from the usual set",
}


def plain(table: dict, code: str):
    """The words for a code; the code itself when a newer one has no words yet."""
    return table.get(code, code.replace("-", " "))


def why_and_what(table: dict[str, tuple[str, str]], code: str) -> tuple[str, str]:
    """Why, and what to do; see `plain`."""
    return table.get(code, (code.replace("-", " "), "Ask who looks after Aftersit."))
