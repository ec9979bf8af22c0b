"""Rewards that the room's own system logged, from annotations and from a trigger channel."""

import numpy as np
import pytest

from aftersit.clinic import ClinicSettings
from aftersit.electrodes import STANDARD_19
from aftersit.errors import InvalidFileError
from aftersit.intake.logged_rewards import reward_times
from aftersit.intake.recording import read_recording
from aftersit.intake.upload_files import find_files
from small_uploads import (
    CLINIC_SETTINGS,
    RATE,
    SETTINGS,
    edf_bytes,
    eeg_uv,
    write_brainvision,
    write_sheet,
)


def settings(**changes) -> ClinicSettings:
    data = CLINIC_SETTINGS.model_dump(mode="json") | {"reward_annotation": None} | changes
    return ClinicSettings.checked(data, "clinic.yaml")


def with_channel() -> np.ndarray:
    """Electrodes and a channel that stands at 7 for a second and a half, then for one sample."""
    data = eeg_uv(20)
    data[19] = 0
    data[19, 5 * RATE : 5 * RATE + 3 * RATE // 2] = 7
    data[19, 30 * RATE] = 7
    data[19, 40 * RATE : 41 * RATE] = 3
    return data


@pytest.mark.parametrize(
    ("form", "label"),
    [
        ("edf", "Trigger"),
        ("edf", "Room sound"),
        ("bdf", "Room sound"),
        ("brainvision", "Trigger"),
        ("brainvision", "Room sound"),
    ],
)
def test_runs_at_the_triggers_value_are_rewards(tmp_path, form, label):
    labels, data = [*STANDARD_19, label], with_channel()
    write_sheet(tmp_path)
    if form == "brainvision":
        write_brainvision(tmp_path, labels, data)
    else:
        (tmp_path / f"rec.{form}").write_bytes(edf_bytes(labels, data, bdf=form == "bdf"))
    recording = read_recording(find_files(tmp_path), SETTINGS, "Europe/Vienna")
    chosen = settings(reward_trigger={"channel": f" {label.lower()} ", "value": 7})
    assert reward_times(recording, chosen) == ((5.0, 1.5), (30.0, 0.0))
    other = settings(reward_trigger={"channel": label, "value": 3})
    assert reward_times(recording, other) == ((40.0, 1.0),)


def test_a_trigger_that_is_not_there_logs_nothing(tmp_path):
    write_sheet(tmp_path)
    (tmp_path / "rec.edf").write_bytes(edf_bytes())
    recording = read_recording(find_files(tmp_path), SETTINGS, "Europe/Vienna")
    chosen = settings(reward_trigger={"channel": "Trigger", "value": 7})
    assert reward_times(recording, chosen) == ()
    assert reward_times(recording, settings()) == ()


def test_rewards_have_one_log_only():
    with pytest.raises(InvalidFileError, match="reward_annotation or reward_trigger, not both"):
        settings(reward_annotation="tone on", reward_trigger={"channel": "T", "value": 7})
