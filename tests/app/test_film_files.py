"""`groundtone calibrate film-out` and `film-in`: films pooled by files."""

import math
import shutil

import pytest

from groundtone.calibration.fitting.expected import TYPICAL, FilmFacts
from groundtone.calibration.pooled_films import expected_here, films_path, read_films, write_films
from groundtone.calibration.profile import read_profile


def film_of(about, exponent):
    return FilmFacts(about, 4.0, 0.2, exponent, 0.005, 0.05, 0.0, 0.1, 0.0, 0.6, 0.05, math.nan, "bench")


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path


def test_commands_write_and_take_in(home, groundtone, request):
    example = request.config.rootpath / "calibration" / "example"
    shutil.copy(example / "mat.json", home / "mat.json")
    said = groundtone("calibrate", "film-out", home / "mat.json", "--out", home / "one.json")
    assert said.code == 0
    assert "What 1 mat says of its film" in " ".join(said.out.split())
    profile = read_profile(home / "mat.json")
    assert profile.uid not in (home / "one.json").read_text("utf-8")
    (film,) = read_films(home / "one.json")
    assert film.exponent == profile.film.curves.exponent
    assert film.by == "bench"
    words = " ".join(groundtone("calibrate", "film-in", home / "one.json").out.split())
    assert "1 mat is new, 1 in all" in words
    assert "nothing changes until a second one" in words
    write_films(home / "more.json", [film_of(f"{i}", 1.4 + 0.01 * i) for i in range(3)])
    said = groundtone("calibrate", "film-in", home / "more.json", home / "one.json")
    words = " ".join(said.out.split())
    assert "3 mats are new, 4 in all" in words
    assert "what was expected of the film beforehand is from 4 pooled mats" in words
    # What a mat said of itself is not expected of it again.
    assert expected_here(profile.uid).mats == 3
    assert expected_here("another").mats == 4
    films_path().write_text("{", "utf-8")
    assert expected_here("another") is TYPICAL


def test_standing_begins_from_the_pool_and_says_so(home, groundtone):
    write_films(films_path(), [film_of(f"{i}", 1.0 + 0.01 * i) for i in range(5)])
    said = groundtone(
        "calibrate", "standing", "--mass", "78.4", "--twin", "5", "--fast", "--profile", home / "new.json"
    )
    assert said.code == 0
    assert "It starts from what 5 pooled films say" in " ".join(said.out.split())
    certificate = " ".join(groundtone("calibrate", "certificate", home / "new.json").out.split())
    assert "what was expected of the film beforehand is from 5 pooled mats" in certificate
