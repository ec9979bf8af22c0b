"""JSON sidecars of raw BIDS, as plain data."""

from collections import Counter

from aftersit.bids.tables import REWARD_LOGGED
from aftersit.clinic import TASK
from aftersit.electrodes import reference_in_words
from aftersit.intake.prefilter import Filters
from aftersit.intake.recording import Recording
from aftersit.sheet import Kind, Practice

EVENT_LEVELS = {
    Kind.BASELINE.value: "sitting still before the practice, to measure the starting level",
    Kind.PRACTICE.value: "meditation with feedback under the protocol in the column `protocol`",
    Kind.BREAK.value: "pause or coaching; no feedback",
    Kind.REST.value: "sitting still without practice; no feedback",
    REWARD_LOGGED: "the room's own system logged that its sound played",
}


def eeg_json(recording: Recording, practice: Practice, mains_hz: int) -> dict:
    """`_eeg.json`: what file and sheet say of the recording; keys as in BIDS, and `Practice`."""
    counts = Counter(channel.kind for channel in recording.channels)
    first = recording.channels[0]
    return {
        "TaskName": TASK,
        "TaskDescription": task_description(practice),
        "Practice": practice.value,
        "EEGReference": reference_in_words(recording.reference),
        "EEGGround": "n/a",
        "EEGPlacementScheme": "10-20",
        "SamplingFrequency": recording.rate_hz,
        "PowerLineFrequency": mains_hz,
        "SoftwareFilters": "n/a",
        "HardwareFilters": _filters(first.filters),
        "RecordingDuration": round(recording.duration_s, 6),
        "RecordingType": "continuous",
        "EEGChannelCount": counts["EEG"],
        "ECGChannelCount": counts["ECG"],
        "EOGChannelCount": counts["EOG"],
        "EMGChannelCount": counts["EMG"],
        "MiscChannelCount": counts["MISC"],
        "TriggerChannelCount": counts["TRIG"],
    }


def task_description(practice: Practice) -> str:
    """What was done in a sitting, in one sentence."""
    return (
        "Meditation sitting with EEG feedback in blocks (see the events); "
        f"practice: {practice.value.replace('-', ' ')}."
    )


def _filters(filters: Filters) -> dict | str:
    """The electrodes' filters; whether an amplifier or its software applied them is not known."""
    stated = {
        "HighPass": {"CutoffHz": filters.highpass_hz},
        "LowPass": {"CutoffHz": filters.lowpass_hz},
        "Notch": {"CentreHz": list(filters.notches_hz) or None},
    }
    found = {k: v for k, v in stated.items() if None not in v.values()}
    return found or "n/a"


def events_json() -> dict:
    """`_events.json`: every column and level of the events table."""
    return {
        "onset": {"Description": "Start, from the first sample", "Units": "s"},
        "duration": {"Description": "Length", "Units": "s"},
        "trial_type": {"Description": "What the period is", "Levels": EVENT_LEVELS},
        "block": {"Description": "Number of the block within the sitting, from 1"},
        "eyes": {
            "Description": "Whether the eyes were open",
            "Levels": {"open": "eyes open", "closed": "eyes closed"},
        },
        "protocol": {"Description": "Name of the protocol that decided on rewards"},
    }
