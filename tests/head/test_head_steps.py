"""The two scripts: options in, files out."""

import runpy
from pathlib import Path

import numpy as np
from sittings import STEM, write_sitting

from aftersit.electrodes import STANDARD_19
from aftersit.head import model as head_model
from aftersit.head import plausible as drawing
from aftersit.head.measures import load_region_measures
from aftersit.head.plausible import load_plausible

SCRIPTS = Path(__file__).parents[2] / "scripts"
SETTINGS_FILE = SCRIPTS.parent / "config" / "settings" / "s1.yaml"


def run(name: str, *options: object) -> None:
    runpy.run_path(str(SCRIPTS / f"{name}.py"))["main"]([str(option) for option in options])


def test_build_head_writes_what_the_package_builds(head, head_file, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(head_model, "build_head", lambda settings: asked.append(settings) or head)
    out = tmp_path / "models" / "head.npz"
    run("build_head", "--settings", SETTINGS_FILE, "--out", out)
    assert out.read_bytes() == head_file.read_bytes()
    assert asked[0].snr == 3


def test_draw_heads_writes_what_the_package_draws(head_file, plausible, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(drawing, "draw_heads", lambda *given: asked.append(given) or plausible)
    out = tmp_path / "models" / "plausible.npz"
    run("draw_heads", "--head", head_file, "--settings", SETTINGS_FILE, "--out", out)
    np.testing.assert_array_equal(load_plausible(out).drawn, plausible.drawn)
    head, settings, seed = asked[0]
    assert (head.names, settings.snr, seed) == (STANDARD_19, 3, 20260301)


def test_measure_regions_writes_its_files(model, tmp_path):
    clean, events = write_sitting(tmp_path)
    (tmp_path / "regions.yaml").write_text("unions:\n  salience: [insula, precuneus]\n")
    options = ["--clean", clean, "--events", events, "--head", model.head]
    options += ["--plausible", model.plausible, "--regions", tmp_path / "regions.yaml"]
    run("measure_regions", *options, "--settings", SETTINGS_FILE, "--out-folder", tmp_path / "out")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        f"{STEM}_{kind}"
        for kind in ("aperiodic.tsv", "bandpower.tsv", "cross.npz", "regions.npz", "spectra.tsv")
    ]
    assert len(load_region_measures(tmp_path / "out" / f"{STEM}_regions.npz").keys) == 3 * (
        34 + 10 + 1
    )
