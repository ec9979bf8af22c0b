"""The methods, worded from the settings, protocols and results of this very sitting."""

from dataclasses import dataclass

from aftersit.pages import reasons
from aftersit.pages.answers_source import gamma_powers
from aftersit.pages.format import band, count, join, length, place
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.methods_drowsy import CITATION as DROWSY_CITATION
from aftersit.pages.methods_drowsy import drowsy_methods, looked_for
from aftersit.pages.methods_muscle import muscle_methods
from aftersit.pages.methods_regions import region_methods, spectra_methods
from aftersit.pages.rules import band_words, threshold_words
from aftersit.protocol import Condition, Protocol
from aftersit.sheet import Kind

CITATIONS = {
    "sloreta": "Pascual-Marqui RD. Standardized low-resolution brain electromagnetic tomography "
    "(sLORETA): technical details. Methods Find Exp Clin Pharmacol 2002;24 Suppl D:5-12.",
    "atlas": "Desikan RS, Ségonne F, Fischl B, et al. An automated labeling system for "
    "subdividing the human cerebral cortex on MRI scans into gyral based regions of interest. "
    "NeuroImage 2006;31:968-980.",
    "picard": "Ablin P, Cardoso JF, Gramfort A. Faster independent component analysis by "
    "preconditioning with Hessian approximations. IEEE Trans Signal Process 2018;66:4040-4049.",
    "iclabel": "Pion-Tonachini L, Kreutz-Delgado K, Makeig S. ICLabel: an automated "
    "electroencephalographic independent component classifier, dataset, and website. "
    "NeuroImage 2019;198:181-197.",
    "drowsy": DROWSY_CITATION,
    "welch": "Welch PD. The use of fast Fourier transform for the estimation of power spectra. "
    "IEEE Trans Audio Electroacoust 1967;15:70-73.",
    "slope": "Donoghue T, Haller M, Peterson EJ, et al. Parameterizing neural power spectra into "
    "periodic and aperiodic components. Nat Neurosci 2020;23:1655-1665.",
    "conductivity": "McCann H, Pisano G, Beltrachini L. Variation in reported human head tissue "
    "electrical conductivity values. Brain Topogr 2019;32:825-858.",
    "interval": "Welch BL. The generalization of 'Student's' problem when several different "
    "population variances are involved. Biometrika 1947;34:28-35.",
    "cosines": "Lazarus E, Lewis DJ, Stock JH, Watson MW. HAR inference: recommendations for "
    "practice. J Bus Econ Stat 2018;36:541-559.",
    "shares": "Newcombe RG. Interval estimation for the difference between independent "
    "proportions: comparison of eleven methods. Stat Med 1998;17:873-890.",
    "leverage": "MacKinnon JG, White H. Some heteroskedasticity-consistent covariance matrix "
    "estimators with improved finite sample properties. J Econometrics 1985;29:305-325.",
    "discovery": "Benjamini Y, Hochberg Y. Controlling the false discovery rate: a practical and "
    "powerful approach to multiple testing. J R Stat Soc B 1995;57:289-300.",
    "survival": "Kaplan EL, Meier P. Nonparametric estimation from incomplete observations. J Am "
    "Stat Assoc 1958;53:457-481.",
    "yardstick": "Whitham EM, Pope KJ, Fitzgibbon SP, et al. Scalp electrical recording during "
    "paralysis: quantitative evidence that EEG frequencies above 20 Hz are contaminated by EMG. "
    "Clin Neurophysiol 2007;118:1877-1888.",
}

JUDGED_BY_SHARE = {"noisy", "flat", "drifting"}
"""Reasons that count from `bad_share` of the recording on (`clean.electrodes`)."""


@dataclass(frozen=True)
class Methods:
    """Paragraphs to paste, and what they cite."""

    paragraphs: tuple[str, ...]
    citations: tuple[str, ...]


def write_methods(inputs: SittingInputs) -> Methods:
    """Methods of one sitting; sentences about steps that did not run are left out."""
    parts = [_recording(inputs), _cleaning(inputs), _heart(inputs), _components(inputs)]
    parts += [muscle_methods(inputs), drowsy_methods(inputs), spectra_methods(inputs)]
    if _has_regions(inputs):
        parts += region_methods(inputs)
    parts += [_replay(inputs, r) for r in inputs.replays]
    if any(r.record.breaks for r in inputs.replays):
        parts.append(_breaks(inputs))
    if any(r.record.insight for r in inputs.replays):
        parts.append(_insight(inputs))
    return Methods(tuple(parts), tuple(CITATIONS[key] for key in _cited(inputs)))


def _has_regions(inputs: SittingInputs) -> bool:
    return any(c.kind == "region" for r in inputs.replays for c in r.record.conditions)


def _cited(inputs: SittingInputs) -> list[str]:
    keys = ["picard", "iclabel"] if inputs.quality.components else []
    keys += ["drowsy"] if looked_for(inputs) else []
    keys += ["welch", "slope"] if inputs.spectra is not None else []
    keys += ["yardstick"] if gamma_powers(inputs) else []
    keys += ["sloreta", "atlas", "conductivity"] if _has_regions(inputs) else []
    compared = any(r.record.breaks for r in inputs.replays)
    beside = any(r.record.insight and r.record.insight.reward_off for r in inputs.replays)
    keys += ["interval"] if compared else []
    keys += ["cosines"] if compared or beside else []
    keys += ["shares"] if compared else []
    keys += ["discovery"] if compared or beside else []
    keys += ["leverage"] if beside else []
    return keys + (["survival"] if any(r.record.insight for r in inputs.replays) else [])


def _recording(inputs: SittingInputs) -> str:
    found = inputs.quality
    missing = [e.name for e in found.electrodes if "missing" in e.reasons]
    kinds = [b.kind for b in inputs.blocks]
    blocks = [count(kinds.count(kind), f"{kind.value} block") for kind in Kind if kinds.count(kind)]
    eyes = join(list(dict.fromkeys(b.eyes for b in inputs.blocks if b.kind is Kind.PRACTICE)))
    text = (
        f"EEG was recorded from {len(found.electrodes) - len(missing)} electrodes of the 10-20 "
        f"system{_not_there(missing)} at {found.rate_hz:g} Hz for {length(found.duration_s)}, "
        f"in {join(blocks)}"
    )
    return f"{text}; eyes were {eyes} in practice." if eyes else f"{text}."


def _not_there(missing: list[str]) -> str:
    if not missing:
        return ""
    return f" ({join(missing)} {'was' if len(missing) == 1 else 'were'} not in the recording)"


def _cleaning(inputs: SittingInputs) -> str:
    found, clean = inputs.quality, inputs.settings.clean
    text = (
        f"Drift was removed with a Butterworth high-pass at {clean.high_pass_hz:g} Hz without "
        "phase shift. "
    )
    if found.mains_hz is None:
        text += "No mains interference stood out and none was removed. "
    else:
        text += (
            f"Mains interference at {found.mains_hz:g} Hz, and at those of its harmonics that "
            "stood out, was subtracted as a sinusoid of slowly changing amplitude and phase "
            f"({clean.mains.window_s:g} s windows). "
        )
    spans = (
        f"Bad spans were marked with {clean.spans.guard_s:g} s on either side "
        f"({count(len(found.bad_spans), 'span')}) and not scored."
    )
    return f"{text}{_left_out(inputs)} {spans}"


def _left_out(inputs: SittingInputs) -> str:
    """Which electrodes were left out, each for its reasons; missing ones are no finding."""
    served = f"{len(inputs.quality.good)} were re-referenced to their average."
    bad = [e for e in inputs.quality.electrodes if not e.good and "missing" not in e.reasons]
    if not bad:
        return f"No electrode was left out; the {served}"
    named = [
        f"{e.name} ({join([reasons.plain(reasons.ELECTRODE, r) for r in e.reasons])})" for e in bad
    ]
    text = (
        f"Electrodes that were bad were left out and not interpolated: {join(named)}; "
        f"the other {served}"
    )
    if any(JUDGED_BY_SHARE & set(e.reasons) for e in bad):
        share = inputs.settings.clean.electrodes.bad_share * 100
        text += f" Noisy, flat or drifting means for more than {share:g} % of the recording."
    return text


def _components(inputs: SittingInputs) -> str:
    found, chosen = inputs.quality, inputs.settings.clean.components
    if not found.components:
        return "No independent components were fitted."
    limits = [f"{label} {getattr(chosen, label):g}" for label in _removable(chosen)]
    removed = [c.label for c in found.components if c.removed]
    counted = [
        f"{removed.count(label)} {reasons.plain(reasons.COMPONENT, label)}"
        for label in dict.fromkeys(removed)
    ]
    return (
        f"Independent components ({len(found.components)}) were found by extended infomax as "
        f"computed by Picard, from at most {chosen.fit_samples} evenly taken samples of at most "
        f"{length(chosen.fit_s)} of signal at about {chosen.fit_rate_hz:g} Hz with the seed "
        f"{inputs.settings.seed}, labelled by ICLabel with rules of our own for eyes "
        f"beside it, and removed when a label's probability reached its limit ({join(limits)}); "
        f"removed were {join(counted) or 'none'}.{_eye_note(inputs)}{_fit_notes(inputs)}"
    )


def _eye_note(inputs: SittingInputs) -> str:
    if not any(c.label == "eye" and c.removed for c in inputs.quality.components):
        return ""
    below_hz = inputs.settings.clean.components.eye_below_hz
    return f" Eye components were taken out below {below_hz:g} Hz and only while they moved."


def _heart(inputs: SittingInputs) -> str:
    heart = inputs.quality.heart
    if heart is None:
        return "No heartbeat was heard at the electrodes."
    source = {"ecg": "the ECG channel", "eeg": "the electrodes themselves"}[heart.source]
    return (
        f"The heartbeat was found in {source}, and its mean, {heart.size_uv:.3g} µV where it was "
        "largest, subtracted at each beat."
    )


def _fit_notes(inputs: SittingInputs) -> str:
    """What makes the components of this sitting less sure than the method promises."""
    found, chosen = inputs.quality, inputs.settings.clean.components
    text = ""
    if not found.components_converged:
        text += f" The fit had not converged after {chosen.max_iterations} iterations."
    if not found.labels_in_design:
        counted = [reasons.plain(reasons.COMPONENT, label) for label in chosen.outside_design]
        text += (
            " The recording does not hold the 1-100 Hz that the labels were made for, so only "
            f"{join(counted)} could be removed by label."
        )
    return text


def _removable(chosen) -> list[str]:
    labels = ("eye", "muscle", "heart", "mains", "channel")
    return [label for label in labels if hasattr(chosen, label)]


def _replay(inputs: SittingInputs, replay: Replayed) -> str:
    protocol, timing = replay.protocol, replay.protocol.timing
    conditions = "; ".join(_condition(c, replay) for c in protocol.conditions)
    return (
        f"The protocol '{protocol.title}' (version {protocol.version}) was scored causally, "
        f"sample after sample: {conditions}. Band-pass filters were causal Butterworth filters of "
        f"order {2 * inputs.settings.replay.filter_order}; power was averaged over "
        f"{timing.smoothing_s:g} s and looked at every {timing.update_s:g} s. "
        f"{_enough_met(protocol)} for {timing.onset_s:g} s started the reward, "
        f"{timing.release_s:g} s without ended it.{_held_off(protocol)} The replay was run on the "
        "cleaned and on the uncleaned signal; cleaning itself learns from the whole recording, so "
        "that only the scoring of the cleaned signal is causal."
        if replay.record.status == "scored"
        else f"The protocol '{protocol.title}' (version {protocol.version}) was not scored."
    )


def _enough_met(protocol: Protocol) -> str:
    needed, total = protocol.needed, len(protocol.conditions)
    if total == 1:
        return "The condition met"
    if needed == total:
        return f"All {total} conditions met together"
    return "Any condition met" if needed == 1 else f"At least {needed} conditions met together"


def _held_off(protocol: Protocol) -> str:
    """What else kept the reward off: warm-up and artefact gate."""
    text = ""
    if protocol.timing.warm_up_s:
        text += f" The first {protocol.timing.warm_up_s:g} s of a block were not rewarded."
    if gate := protocol.artefact_gate:
        text += (
            f" Nothing was rewarded until {gate.hold_s:g} s after an electrode had swung further "
            f"than {gate.limit_uv:g} µV in {band(gate.band_hz)}."
        )
    return text


def _condition(condition: Condition, replay: Replayed) -> str:
    result = replay.conditions[condition.name]
    where = place(result.place, result.kind)
    return f"{where}, {band_words(result)}, {result.direction} {threshold_words(result)}"


def _breaks(inputs: SittingInputs) -> str:
    chosen = inputs.settings.replay.insight
    return (
        f"Before and after each break, means over {chosen.segment_s:g} s segments of which at "
        f"least {chosen.segment_known * 100:g} % were known were compared (at least "
        f"{chosen.segments_min} on each side). Since neighbouring segments depend on each other, "
        f"each side's variance was taken from its {chosen.change_cosines} slowest cosines "
        "(equal-weighted cosine estimator), with Welch's degrees of freedom for the 95 % interval. "
        "For the time in target each side has the exact interval of as many trials as would be as "
        "sure, and both were squared and added (Newcombe). "
        "A change is called clear where it holds a false discovery rate of "
        f"{chosen.false_discovery_rate * 100:g} % (Benjamini and Hochberg) over all conditions and "
        "breaks of the sitting. All one-sided regions in all standard bands were compared alike; "
        "of those, what holds the same rate is reported."
    )


def _insight(inputs: SittingInputs) -> str:
    chosen = inputs.settings.replay.insight
    return (
        "What the conditions would give together by chance comes from "
        f"{chosen.shifts} surrogates, in which each condition was shifted in a circle within each "
        f"block by at least {chosen.shift_min_s:g} s; for leakage alone their normal scores were "
        "mixed to the correlations that the measures have when no two sources vary together. "
        "How long bouts go on is Kaplan and Meier's estimate. Advised thresholds are those at "
        "which each condition that may move is met equally often and all together give "
        f"{chosen.advice_target * 100:g} %, moved by at most {chosen.advice_step_db:g} dB; "
        "conditions that guard against muscle were left as they are. "
        f"What was higher while the reward stayed off: levels in {chosen.window_s:g} s windows "
        "were regressed on the part of each window without reward, within blocks; the variance is "
        f"that of {chosen.share_cosines} slow cosines of each block with allowance for leverage "
        "(HC3), the false discovery rate as over breaks."
    )


def settings_rows(inputs: SittingInputs) -> list[tuple[str, str]]:
    """Every setting of the version, one row a section, in the file's order."""
    rows: dict[str, list[str]] = {}
    for name, value in _flat(inputs.settings.model_dump(mode="json"), ""):
        section, _, key = name.rpartition(".")
        rows.setdefault(section or "all", []).append(f"{key} {value}")
    return [(section, ", ".join(values)) for section, values in rows.items()]


def _flat(value: object, name: str):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(inner, f"{name}.{key}" if name else key)
    else:
        yield name, " and ".join(map(str, value)) if isinstance(value, list) else str(value)
