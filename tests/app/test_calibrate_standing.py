"""`groundtone calibrate standing` and `certificate` in use on the twin."""

import json
import shutil
from dataclasses import replace

import pytest

from groundtone.app.twin import mat_of
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import read_profile, write_profile
from groundtone.mat.layout import layout_of
from groundtone.twin.scenario import GolferSpec, Scenario, Standing


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path / "new.json"


@pytest.fixture
def example(tmp_path, request):
    """A copy of the example's profile (simulated starter mat 7)."""
    shutil.copy(request.config.rootpath / "calibration" / "example" / "mat.json", tmp_path / "mat.json")
    return tmp_path / "mat.json"


def test_a_minute_on_the_mat_makes_a_profile(groundtone, path, tmp_path):
    said = groundtone("calibrate", "standing", "--mass", "78.4", "--twin", "5", "--fast", "--profile", path)
    assert said.code == 0
    assert "It starts from the film's typical curve" in said.out
    assert "step on: One foot on each panel" in said.out
    profile = read_profile(path)
    assert "simulated" in profile.note
    assert "78.4 kg" in profile.note
    # The doubt is a calibration's, and smaller where a sole was than where none was.
    film = profile.film
    assert 0.02 < film.level_u.min() < 0.2 < film.level_u.max() < 0.4
    assert film.highest_n > 30
    changed = film.curves.level != typical_curves(10, 6).level
    assert changed.mean() > 0.3
    said = groundtone("calibrate", "certificate", path, "--out", tmp_path / "page")
    assert said.code == 0
    assert "none; a person of known mass stood on it" in said.out
    assert (tmp_path / "page" / "certificate.txt").read_text().splitlines()[0].startswith("Calibration certificate of")
    assert (tmp_path / "page" / "certificate.png").stat().st_size > 20_000


def short(tmp_path, mass_kg):
    """Half a minute on the starter mat 7, as a file for --twin."""
    file = tmp_path / "scenario.json"
    act = Standing(GolferSpec(mass_kg=mass_kg), seed=5, rock_s=30.0, fast_s=2.0)
    file.write_text(Scenario(mat_of(7, "starter-10x3"), act).to_json())
    return file


def test_a_second_person_begins_with_what_was_known(groundtone, path, example, tmp_path):
    arguments = ("--twin", short(tmp_path, 61.0), "--fast", "--profile", example)
    said = groundtone("calibrate", "standing", "--mass", "61", *arguments)
    assert said.code == 0
    assert f"It starts from the profile {example}" in said.out
    assert read_profile(example.with_name("mat.json.1")).note == "simulated: made on the twin, by simulated hands"
    assert "61 kg" in read_profile(example).note


def test_after_a_change_of_the_layout_it_begins_anew_and_keeps_the_old_profile(groundtone, path, example, tmp_path):
    write_profile(example, replace(read_profile(example), layout_digest="00000000"))
    arguments = ("--twin", short(tmp_path, 61.0), "--fast", "--profile", example)
    said = groundtone("calibrate", "standing", "--mass", "61", *arguments)
    assert said.code == 0
    assert "this begins anew" in " ".join(said.out.split())
    assert read_profile(example.with_name("mat.json.1")).layout_digest == "00000000"
    assert read_profile(example).layout_digest == layout_of("starter-10x3").digest


def test_a_person_who_is_not_of_the_stated_mass_is_refused(groundtone, path, example, tmp_path):
    before = example.read_bytes()
    arguments = ("--twin", short(tmp_path, 50.0), "--fast", "--profile", example)
    said = groundtone("calibrate", "standing", "--mass", "85", *arguments)
    assert said.code == 2
    assert "kg (within" in said.err
    assert "where 85.0 kg were stated" in said.err
    assert example.read_bytes() == before


def test_nobody_comes(groundtone, path, tmp_path):
    file = tmp_path / "scenario.json"
    file.write_text(Scenario(mat_of(5), Standing(rock_s=4.0, sway=0.0, fast_s=0.0)).to_json())
    said = groundtone("calibrate", "standing", "--mass", "80", "--twin", file, "--fast", "--profile", path)
    assert said.code == 2
    assert "postures were seen" in said.err
    assert not path.exists()


@pytest.mark.parametrize(
    ("mass", "says"),
    [
        ("0", "will not do here"),
        ("-70", "is not a mass"),
        ("172", "are pounds or grams meant?"),
        ("172 lb", "are 78.02 kg meant?"),
        ("800", "will not do here"),
        ("me", "is not a mass"),
    ],
)
def test_masses_that_are_none(groundtone, path, mass, says):
    said = groundtone("calibrate", "standing", "--mass", mass, "--twin", "5", "--fast")
    assert said.code == 2
    assert says in " ".join(said.err.split())


def test_certificates_that_cannot_be(groundtone, path, tmp_path):
    missing = groundtone("calibrate", "certificate", path)
    assert missing.code == 2
    assert "cannot be read" in missing.err
    path.write_text(json.dumps({"groundtone profile": 2}))
    damaged = groundtone("calibrate", "certificate", path)
    assert damaged.code == 2
    assert "damaged" in damaged.err


def test_the_drawings_in_the_repository_are_what_the_command_draws(groundtone, tmp_path, request):
    assert groundtone("calibrate", "drawings", "--out", tmp_path).code == 0
    kept = request.config.rootpath / "calibration" / "drawings"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(p.name for p in kept.iterdir())
    for file in tmp_path.iterdir():
        assert file.read_text()[:200] == (kept / file.name).read_text()[:200]
        assert len(file.read_text()) == pytest.approx(len((kept / file.name).read_text()), rel=0.02)
