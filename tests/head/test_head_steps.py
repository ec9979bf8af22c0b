"""The two scripts: options in, files out."""

import runpy
from pathlib import Path

from sittings import STEM, write_sitting

from aftersit.head import model
from aftersit.head.measures import load_region_measures

SCRIPTS = Path(__file__).parents[2] / "scripts"


def run(name: str, *options: object) -> None:
    runpy.run_path(str(SCRIPTS / f"{name}.py"))["main"]([str(option) for option in options])


def test_build_head_writes_what_the_package_builds(head, head_file, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(model, "build_head", lambda settings: asked.append(settings) or head)
    out = tmp_path / "models" / "head.npz"
    run("build_head", "--settings", "s1", "--out", out)
    assert out.read_bytes() == head_file.read_bytes()
    assert asked[0].snr == 3


def test_measure_regions_writes_its_three_files(head_file, tmp_path):
    clean, events = write_sitting(tmp_path)
    options = ["--clean", clean, "--events", events, "--head", head_file]
    run("measure_regions", *options, "--settings", "s1", "--out-folder", tmp_path / "out")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        f"{STEM}_{kind}" for kind in ("bandpower.tsv", "regions.npz", "spectra.tsv")
    ]
    assert len(load_region_measures(tmp_path / "out" / f"{STEM}_regions.npz").keys) == 3 * (34 + 10)
