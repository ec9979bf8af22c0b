"""Labels seen in files (BND-6 of common practice) become standard names, or a reason."""

import pytest

from aftersit.electrodes import (
    STANDARD_19,
    read_label,
    read_labels,
    reference_in_words,
)

LEFT = [n for n in STANDARD_19 if n[-1] in "1357"]


@pytest.mark.parametrize(
    ("label", "name", "kind", "reference"),
    [
        ("EEG T3", "T7", "EEG", None),
        ("Fc5.", "FC5", "EEG", None),
        ("T5..", "P7", "EEG", None),
        ("T6-REF", "P8", "EEG", "REF"),
        ("FP1-A1", "Fp1", "EEG", "A1"),
        ("eeg fp2-le", "Fp2", "EEG", "LE"),
        ("EEG F3 - A1A2", "F3", "EEG", "A1A2"),
        ("EEGCZ", "Cz", "EEG", None),
        ("POL O2", "O2", "EEG", None),
        ("P3-Cz", "P3", "EEG", "Cz"),
        ("EEG A2-A1", "A2-A1", "MISC", None),
        ("A1", "A1", "EAR", None),
        ("M2-REF", "M2", "EAR", None),
        ("ECG ECG", "ECG ECG", "ECG", None),
        ("EKG1", "EKG1", "ECG", None),
        ("VEOG-L", "VEOG-L", "EOG", None),
        ("Status", "Status", "TRIG", None),
        ("STI 014", "STI 014", "TRIG", None),
        ("CP3-Foo", "CP3-Foo", "MISC", None),
        ("Anna M.", "Anna M", "MISC", None),
    ],
)
def test_label_is_read_without_its_clutter(label, name, kind, reference):
    found = read_label(label)
    assert (found.name, found.kind, found.reference) == (name, kind, reference)


def test_old_and_new_name_together_are_refused():
    (problem,) = read_labels([*STANDARD_19, "T3"], 16).problems
    assert (problem.code, problem.labels) == ("old-and-new-name", ("T7", "T3"))


def test_one_electrode_twice_is_refused():
    (problem,) = read_labels([*STANDARD_19, "EEG Cz"], 16).problems
    assert (problem.code, problem.labels) == ("electrode-twice", ("Cz", "EEG Cz"))


def test_bipolar_chain_is_refused_and_not_cut_to_its_first_names():
    montage = read_labels(["Fp1-F3", "F3-C3", "C3-P3", "P3-O1"], 16)
    assert [p.code for p in montage.problems] == ["bipolar"]
    assert montage.electrodes == []


def test_a_pair_beside_a_full_montage_is_an_extra_channel():
    montage = read_labels([*STANDARD_19, "T7-T8"], 16)
    assert montage.problems == ()
    assert (montage.channels[-1].name, montage.channels[-1].kind) == ("T7-T8", "MISC")


def test_ear_reference_by_side_is_refused():
    labels = [f"{n}-{'A1' if n in LEFT else 'A2'}" for n in STANDARD_19]
    (problem,) = read_labels(labels, 16).problems
    assert problem.code == "ear-by-side"


@pytest.mark.parametrize(
    ("suffix", "words"),
    [("A1", "A1 (left ear)"), ("LE", "linked ears"), ("AVG", "average"), ("FCz", "FCz")],
)
def test_one_reference_for_all_is_fine(suffix, words):
    montage = read_labels([f"{n}-{suffix}" for n in STANDARD_19], 16)
    assert montage.problems == ()
    assert reference_in_words(montage.reference) == words


def test_one_electrode_with_another_reference_is_named():
    labels = [f"{n}-REF" for n in STANDARD_19[:-1]] + ["O2-AVG"]
    (problem,) = read_labels(labels, 16).problems
    assert (problem.code, problem.labels) == ("mixed-reference", ("O2-AVG",))
