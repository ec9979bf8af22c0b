"""Changes on a clinic whose nights really ran: what ran, what is in force, the same bytes."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import uploads
import yaml
from nights import make_models, make_sitting, run_night

from aftersit.change.again import make_again
from aftersit.change.chain import chains
from aftersit.change.compare import comparison
from aftersit.change.new_version import new_settings_version
from aftersit.change.replay import replay
from aftersit.change.select import Request
from aftersit.change.sides import Side
from aftersit.clinic import Clinic, SittingId
from aftersit.night import kept_settings as kept
from aftersit.night.contents import contents
from aftersit.night.ledger import Ledger
from aftersit.night.older import made_before
from aftersit.night.run import run_night as night_here
from aftersit.night.session import at_work
from aftersit.night.status import describe

pytestmark = pytest.mark.slow

ALPHA = uploads.PROTOCOL["conditions"][0]
OTHER = ALPHA | {"threshold": {"absolute": 1.7}, "band_hz": [9, 12]}
NIGHT = """
import sys
from aftersit.night import run, settings
other = {"settle_s": 0.05, "cores": int(sys.argv[2])}
quick = settings.load_night_settings().model_copy(update=other)
run.load_night_settings = lambda: quick
from aftersit.cli import main
sys.exit(main(["nightly", "--clinic", sys.argv[1]]))
"""


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    """Two sittings of two clients after a night."""
    clinic = Clinic(uploads.make_clinic(tmp_path_factory.mktemp("night") / "clinic"))
    blocks = {"blocks": [{"kind": "practice", "start": 0, "end": 62}]}
    make_sitting(clinic.inbox / "u0", 3, client="K01", **blocks)
    make_sitting(clinic.inbox / "u1", 5, client="M02", **blocks)
    make_models(clinic)
    code, said = run_night(clinic.root)
    assert code == 0, said
    return clinic.root


@pytest.fixture
def clinic(night, tmp_path) -> Clinic:
    return Clinic(shutil.copytree(night, tmp_path / "clinic"))


def add_version(clinic, number, condition):
    said = uploads.PROTOCOL | {"version": number, "conditions": [condition]}
    (clinic.protocols / "soft-alpha" / f"v{number}.yaml").write_text(yaml.safe_dump(said))


def derived(clinic, *parts):
    return {p: contents(clinic.root / "derivatives" / p) for p in parts}


def test_a_new_rule_in_force_runs_replay_and_pages_alone(clinic):
    add_version(clinic, 2, OTHER)
    old = derived(clinic, "clean-s1", "regions-s1", "replay-s1-soft-alpha-v1")
    page = clinic.report(SittingId("K01", 1)) / "clinician.html"
    before = page.read_text()
    done = replay(clinic, Request(protocol="soft-alpha", version=2), print)
    assert dict(done.rules) == {
        "replay_protocol": 2,
        "write_pages": 2,
        "finish_sitting": 2,
    }
    assert derived(clinic, *old) == old
    ledger = Ledger(clinic)
    assert [e.protocols["soft-alpha"] for e in ledger.entries()] == [2, 2]
    assert all(map(ledger.is_finished, ledger.entries()))
    assert page.read_text() != before
    provenance = json.loads(page.with_name("provenance.json").read_text())
    assert list(provenance["records"]) == [
        "derivatives/replay-s1-soft-alpha-v2/sub-K01/ses-01/record.json"
    ]
    assert night_here(clinic, print).outcomes == []


def test_other_cleaning_cleans_again_and_keeps_the_old_results(clinic):
    new_settings_version(clinic, "s1")
    own = clinic.own_settings / "s2.yaml"
    own.write_text(own.read_text().replace("high_pass_hz: 0.5", "high_pass_hz: 0.8"))
    old = derived(clinic, "clean-s1", "regions-s1", "replay-s1-soft-alpha-v1")
    done = replay(clinic, Request(settings="s2", only_try=True), print)
    assert dict(done.rules) == {"clean_recording": 2, "measure_regions": 2, "replay_protocol": 2}
    assert derived(clinic, *old) == old
    found = comparison(clinic, Side.parse("s1"), Side.parse("s2"))
    assert len(found.rows) == 2
    assert [e.settings for e in Ledger(clinic).entries()] == ["s1", "s1"]


def test_a_new_union_measures_again_and_never_cleans(clinic):
    (clinic.root / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    new_settings_version(clinic, "s1")
    (clinic.root / "regions.yaml").unlink()
    done = replay(clinic, Request(settings="s2", only_try=True), print)
    assert dict(done.rules) == {"measure_regions": 2, "replay_protocol": 2}


def test_an_upgrade_is_never_the_nights_but_the_commands(clinic, second_algorithms):
    old = derived(clinic, "replay-s1-soft-alpha-v1")
    assert night_here(clinic, print).outcomes == []
    assert len(made_before(Ledger(clinic).entries())) == 2
    assert "  algorithms 2 (replay): Bouts end one step later." in describe(clinic)
    done = replay(clinic, Request(upgrade=True), print)
    assert done.rules["replay_protocol"] == done.rules["write_pages"] == 2
    assert not {"clean_recording", "measure_regions"} & set(done.rules)
    assert derived(clinic, *old) == old
    assert [e.settings for e in Ledger(clinic).entries()] == ["s1.2", "s1.2"]
    found = comparison(clinic, Side.parse("s1"), Side.parse("s1.2"))
    for row in found.rows:  # the stand-in for other algorithms computes the same
        assert row.pair.a.model_copy(update={"settings": "s1.2"}) == row.pair.b


def test_a_record_is_made_again_to_the_same_bytes_from_the_upload(clinic):
    for chain in chains(clinic, Path("K01/01")):
        with at_work(clinic) as lock:
            assert make_again(chain, lock) == []


@pytest.mark.parametrize(
    ("threads", "surroundings", "folder"),
    [
        (1, {"LC_ALL": "C", "TZ": "UTC"}, "a"),
        (2, {"LC_ALL": "de_DE.UTF-8", "TZ": "Asia/Kathmandu"}, "Praxis Nr. 2"),
        (4, {"LANG": "tr_TR.UTF-8", "TZ": "America/St_Johns"}, "Übung/tief/er"),
    ],
)
def test_the_bytes_are_the_same_after_deleting_derivatives(
    night, tmp_path, threads, surroundings, folder
):
    """With 1, 2 and 4 jobs and threads asked for, other locales, zones and folder names."""
    clinic = Clinic(shutil.copytree(night, tmp_path / folder / "clinic"))
    models = clinic.derivatives / "regions-s1" / "models"
    kept_models = shutil.copytree(models, tmp_path / "models")
    before = contents(clinic.root / "bids") | contents(clinic.derivatives)
    shutil.rmtree(clinic.derivatives)
    shutil.copytree(kept_models, models)
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    done = subprocess.run(
        [sys.executable, "-c", NIGHT, str(clinic.root), str(threads)],
        env=os.environ | dict.fromkeys(names, str(threads)) | surroundings,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    after = contents(clinic.root / "bids") | contents(clinic.derivatives)
    assert [n for n in {*before, *after} if before.get(n) != after.get(n)] == []


def test_the_programs_own_settings_file_is_never_written(clinic):
    source = kept.settings_source(clinic, "s1")
    before = source.read_bytes()
    new_settings_version(clinic, "s1")
    assert source.read_bytes() == before
