"""The units for systemd and the cron line agree with the command's exit codes."""

import configparser
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from aftersit import cli

FOLDER = Path(__file__).parents[1] / "config" / "service"
NO_FAILURES = {"3", "5"}


def unit(name: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(interpolation=None, strict=True)
    parser.optionxform = str
    parser.read(FOLDER / name)
    return parser


def test_exit_codes_that_are_no_failures():
    told = dict(re.findall(r"^  (\d)  (.+)$", cli.EXIT_CODES, re.MULTILINE))
    assert "set aside" in told["3"]
    assert "another night" in told["5"]
    service = unit("aftersit-nightly@.service")["Service"]
    assert set(service["SuccessExitStatus"].split()) == NO_FAILURES
    cron = (FOLDER / "aftersit.cron").read_text()
    assert set(re.search(r"case \$code in ([\d|]+)\)", cron)[1].split("|")) == {"0"} | NO_FAILURES


def test_a_failure_calls_the_hook_and_a_missed_night_is_made_up_for():
    service = unit("aftersit-nightly@.service")
    assert service["Unit"]["OnFailure"] == "aftersit-failed@%i.service"
    assert (FOLDER / "aftersit-failed@.service").is_file()
    timer = unit("aftersit-nightly@.timer")["Timer"]
    assert timer["Persistent"] == "true"


def test_the_cron_line_is_one_line_of_shell():
    line = (FOLDER / "aftersit.cron").read_text().splitlines()[-1]
    assert line.startswith("0 2 * * * ")
    command = line.removeprefix("0 2 * * * ")
    assert "%" not in command  # crontab(5): a percent sign would end the command
    subprocess.run(["sh", "-n", "-c", command], check=True)


def test_the_cron_line_runs_a_night_in_a_new_clinic(tmp_path):
    """As cron(8) does, by `sh -c`; a failure is told with the night's own words."""
    line = (FOLDER / "aftersit.cron").read_text().splitlines()[-1].removeprefix("0 2 * * * ")
    (tmp_path / "clinic").mkdir()
    (tmp_path / "aftersit").write_text("#!/bin/sh\necho ran $1\nexit $(cat code)\n")
    (tmp_path / "aftersit").chmod(0o755)
    line = line.replace("/opt/aftersit/scripts/aftersit", str(tmp_path / "aftersit"))
    line = line.replace("/srv/clinic", str(tmp_path / "clinic"))
    for code, told in ((3, ""), (4, "night failed with 4\nran nightly\n")):
        (tmp_path / "code").write_text(str(code))
        done = subprocess.run(
            ["sh", "-c", line], capture_output=True, text=True, check=False, cwd=tmp_path
        )
        assert (done.stdout, done.stderr) == (told, "")
    assert (tmp_path / "clinic" / ".aftersit").stat().st_mode & 0o077 == 0
    shutil.rmtree(tmp_path / "clinic")  # as on a disk that is not mounted
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
    assert done.stdout.startswith("night failed with ")
    assert not (tmp_path / "clinic").exists()


def test_the_failure_hook_tells_all_users_one_fixed_sentence(tmp_path):
    """`wall` writes to everybody's terminal: no codes, nothing that depends on the clinic."""
    said = tmp_path / "said"
    for name, text in {"wall": f"cat > {said}", "aftersit": "echo K07/01"}.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{text}\n")
        (tmp_path / name).chmod(0o755)
    command = unit("aftersit-failed@.service")["Service"]["ExecStart"]
    line = command.replace("/opt/aftersit/scripts", str(tmp_path)).replace("%f", "/srv/clinic")
    subprocess.run(shlex.split(line), check=True, env={"PATH": f"{tmp_path}:/usr/bin:/bin"})
    assert said.read_text() == (
        "The Aftersit night failed. To see how things stand, run: scripts/aftersit status\n"
    )


def test_systemd_itself_has_nothing_to_say(tmp_path):
    """`systemd-analyze verify` reads the units as systemd would."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not here")
    for path in FOLDER.glob("aftersit-*"):
        text = path.read_text().replace("/opt/aftersit/scripts/aftersit", "/bin/true")
        (tmp_path / path.name.replace("@.", "@srv-clinic.")).write_text(
            text.replace("User=aftersit", "User=root")
        )
    done = subprocess.run(
        ["systemd-analyze", "verify", *map(str, tmp_path.iterdir())],
        capture_output=True,
        text=True,
        check=False,
    )
    ours = [
        line for line in done.stderr.splitlines() if str(tmp_path) in line or "aftersit" in line
    ]
    assert ours == []
