import errno
import os
import sys

import pytest
import yaml
from uploads import SHEET, make_clinic, make_upload

from aftersit.cli import main
from aftersit.clinic import Clinic
from aftersit.night import run
from aftersit.night.status import read_nights
from aftersit.trouble import in_words


def test_words_after_test_go_to_pytest(monkeypatch):
    called = []
    monkeypatch.setattr(os, "execv", lambda path, words: called.append((path, words)))
    monkeypatch.setattr(os, "chdir", lambda path: None)
    main(["test", "-m", "slow", "-n", "0", "tests/replay"])
    assert called == [
        (sys.executable, [sys.executable, "-m", "pytest", "-m", "slow", "-n", "0", "tests/replay"])
    ]


def test_other_commands_refuse_what_they_do_not_know(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["status", "--colour"])
    assert caught.value.code == 2
    assert "unknown: --colour" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "code", "text"),
    [
        (["status"], 1, "is no clinic: it has no clinic.yaml"),
        (["nightly"], 4, "the night broke off: "),
        (["release", "K7", "--reviewer", "R1"], 1, "'K7' is no sitting; write CLIENT/NUMBER"),
    ],
)
def test_a_users_mistake_is_one_line_and_no_traceback(tmp_path, capsys, words, code, text):
    assert main([*words, "--clinic", str(tmp_path)]) == code
    said = capsys.readouterr().err
    assert said.startswith("aftersit: ")
    assert text in said
    assert said.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--from", "14.03.2026"], "--from: '14.03.2026' is no day; write YYYY-MM-DD"),
        (["--to", "2026-02-30"], "--to: '2026-02-30' is no day; write YYYY-MM-DD"),
        (["--settings", "s1.x"], "--settings: 's1.x' is no settings version; write it as s1"),
        (["--version", "two"], "--version: 'two' is no version; write its number, as 2"),
        (["--clients", "K07;M12"], "'K07;M12': write commas between the codes, as K07,M12"),
    ],
)
def test_a_wrong_value_of_an_option_is_told_with_what_to_write(capsys, words, told):
    with pytest.raises(SystemExit) as caught:
        main(["replay", "--upgrade", *words])
    assert caught.value.code == 2
    said = capsys.readouterr().err
    assert told in said
    assert "invalid" not in said


def test_a_file_in_place_of_a_folder_is_told_in_words():
    assert in_words(NotADirectoryError(errno.ENOTDIR, "x")) == (
        "a file lies where a folder is needed; move it away"
    )


@pytest.mark.parametrize("sample", ["-1", "some"])
def test_a_sample_is_a_count(tmp_path, capsys, sample):
    with pytest.raises(SystemExit) as caught:
        main(["audit", "--sample", sample, "--clinic", str(make_clinic(tmp_path / "clinic"))])
    assert caught.value.code == 2
    assert "--sample: a whole number, 0 or more" in capsys.readouterr().err


def test_a_fault_of_our_own_fails_the_night_without_words_of_a_sheet(tmp_path, capsys, monkeypatch):
    words = "Erika Mustermann"

    def broken(*_):
        raise ValueError(words)

    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    monkeypatch.setattr(run, "_run", broken)
    assert main(["nightly", "--clinic", str(clinic.root)]) == 4
    said = capsys.readouterr().err
    assert said.startswith("aftersit: the night broke off: ")
    assert ".aftersit/logs/night-broken.log" in said
    assert said.count("\n") == 1
    log = (clinic.state / "logs" / "night-broken.log").read_text()
    assert "ValueError" in log
    assert "test_cli.py" in log
    assert "Erika" not in said + log
    assert read_nights(clinic).exit_code == 4


def test_check_says_what_the_night_would_do(tmp_path, capsys):
    clinic = make_clinic(tmp_path / "clinic")
    good = make_upload(tmp_path / "good", 1)
    bad = make_upload(tmp_path / "bad", 1, practise="x")
    assert main(["check", str(good), "--clinic", str(clinic)]) == 0
    said = capsys.readouterr().out
    assert "would be taken as K07/01, revision 1, 2026-03-14" in said
    assert "  block 1: practice 00:00-01:10, eyes closed, soft-alpha\n" in said
    assert main(["check", str(bad), "--clinic", str(clinic)]) == 1
    said = capsys.readouterr().out
    assert "unknown key; did you mean 'practice'?" in said
    assert said.startswith("A night would set this upload aside: one thing must be put right")
    assert "nothing was moved. Correct the files where they are, then check again." in said
    for untrue in ("was set aside", "set-aside/", "retry"):
        assert untrue not in said


def test_checking_what_is_not_there_says_so(tmp_path, capsys):
    clinic = make_clinic(tmp_path / "clinic")
    gone = tmp_path / "monday-2"
    assert main(["check", str(gone), "--clinic", str(clinic)]) == 1
    assert capsys.readouterr() == ("", f"aftersit: there is no folder {gone}\n")


def test_retry_sends_nothing_that_the_next_night_would_refuse(tmp_path, capsys):
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    upload = make_upload(clinic.set_aside / "tue", 1, practise="x")
    wanted = ["retry", "tue", "--clinic", str(clinic.root)]
    assert main(wanted) == 1
    said = capsys.readouterr().out
    assert said.startswith("Nothing was sent again.\n")
    assert "unknown key; did you mean 'practice'?" in said.replace("\n", " ")
    assert upload.is_dir()
    (upload / "sitting.yaml").write_text(yaml.safe_dump(SHEET))
    assert main(wanted) == 0
    assert (clinic.inbox / "tue" / "sitting.yaml").is_file()
