"""When the room's own system played its sound, as the recording logs it."""

import numpy as np

from aftersit.clinic import ClinicSettings, RewardTrigger
from aftersit.intake.recording import Recording

_UV_PER_V = 1e6
_SLACK = 0.25
"""Triggers are whole numbers; the steps of a file's scale may move them a little."""


def reward_times(recording: Recording, clinic: ClinicSettings) -> tuple[tuple[float, float], ...]:
    """Onset and duration, in seconds, of the rewards that the room's system logged.

    A log of moments has durations of 0. A trigger channel that the recording
    does not have logs nothing.
    """
    if clinic.reward_trigger:
        return _from_channel(recording, clinic.reward_trigger)
    text = clinic.reward_annotation
    end_s = recording.duration_s
    return tuple(
        (a.onset_s, round(min(a.duration_s, end_s - a.onset_s), 6))
        for a in recording.annotations
        if text is not None and a.text == text.strip() and 0 <= a.onset_s < end_s
    )


def _from_channel(recording: Recording, trigger: RewardTrigger) -> tuple[tuple[float, float], ...]:
    """Runs of samples at the trigger's value; a run of one sample is a moment."""
    wanted = trigger.channel.strip().lower()
    rows = [k for k, c in enumerate(recording.channels) if c.label.strip().lower() == wanted]
    if not rows:
        return ()
    at = np.abs(_as_stored(recording, rows[0]) - trigger.value) <= _SLACK
    edges = np.flatnonzero(np.diff(np.r_[False, at, False]))
    spans = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    rate_hz = recording.rate_hz
    return tuple(
        (round(a / rate_hz, 6), round((b - a) / rate_hz, 6) if b - a > 1 else 0.0) for a, b in spans
    )


def _as_stored(recording: Recording, row: int) -> np.ndarray:
    """A channel's whole numbers.

    In volts they are millionths; but a reader may give the numbers themselves for
    a channel that it knows as a trigger, whatever unit the header states.
    """
    values = recording.signal[row]
    in_volts = recording.channels[row].is_volt and np.abs(values).max(initial=0) < 0.5
    return values * _UV_PER_V if in_volts else values
