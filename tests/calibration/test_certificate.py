"""The certificate's figures by hand, and what it says of profiles that know more and less."""

import math
from dataclasses import replace

import matplotlib.image
import numpy as np
import pytest

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.fit_notes import FitNotes, Made
from groundtone.calibration.force_curve import UNIT_S, Curves
from groundtone.calibration.pages.certificate import certificate_lines, doubt_of, force_u, gains_of, readings_of
from groundtone.calibration.pages.certificate_page import draw_certificate
from groundtone.calibration.profile import Profile
from groundtone.errors import GroundtoneError
from groundtone.lesson.wording import sentences

LEVEL = np.log([[30.0, 40.0], [50.0, 40.0]])
CURVES = Curves(LEVEL, 1.1, 0.01, -1.5, 1.5, 5e-3, 0.0)
FILM = Film(CURVES, 0.03, 0.05, np.full((2, 2), 0.02), np.diag([1e-4, 0.0]), 200.0, (), 0.2, 0.0, 0.003)
PROFILE = Profile(
    "0123456789abcdef", "small", "abcd", "2026-01-02T03:04:05+00:00", (20.0, 200.0), 0.02, FILM,
    "simulated: by hand", ("2 kg", "20 kg"),
)  # fmt: skip


def notes(**more):
    made = (
        Made(0, 0, 20.0, False, 0.01, 1.0), Made(0, 0, 200.0, False, -0.02, 1.0), Made(0, 0, 20.0, True, 0.03, 0.9),
        Made(1, 1, 20.0, False, 0.50, 0.01),
    )  # fmt: skip
    cov = np.zeros((2, 2, 3, 3))
    cov[..., 0, 0] = 0.02**2
    cov[..., 1, 1] = 0.01**2
    nothing = np.full((2, 2), np.nan)
    base = FitNotes(
        "power with saturation", {"power": 0.04, "power with saturation": 0.03}, cov, 0.2,
        np.array([0.03, np.nan]), nothing, np.array([0.02, 0.025]), nothing, ("the heaviest load is 200 N",), made,
    )  # fmt: skip
    return replace(base, **more)


def test_gains_are_set_against_the_median_and_dead_cells_have_none():
    np.testing.assert_allclose(gains_of(FILM), [[0.75, 1.0], [1.25, 1.0]])
    gains = gains_of(replace(FILM, dead=((1, 0),)))
    assert math.isnan(gains[1, 0])
    np.testing.assert_allclose(gains[0], [0.75, 1.0])


def test_readings_turn_the_curve_over():
    for force in (5.0, 60.0, 400.0):
        x = readings_of(CURVES, np.array([force]))[0]
        above = UNIT_S * np.exp(x)
        conductance = above / (1 + above / 5e-3)
        np.testing.assert_allclose(CURVES.force_n(conductance), force, rtol=2e-3)


def test_uncertainty_by_hand():
    x = np.full((1, 2, 2), 1.2)
    # Level 2 %, exponent 1 % at a distance of 1.0 from the centre, weights 0.3 %: independent.
    want = math.sqrt(0.02**2 + (0.01 * 1.0) ** 2 + 0.003**2)
    np.testing.assert_allclose(force_u(FILM, None, x), want)
    # With the notes the cells' own covariance counts, from x = 0 on.
    want = math.sqrt(0.02**2 + (0.01 * 1.2) ** 2 + 0.003**2)
    np.testing.assert_allclose(force_u(FILM, notes(), x), want)


def test_the_doubt_widens_above_the_highest_load():
    doubt = doubt_of(FILM, notes(), np.array([50.0, 200.0, 500.0]))
    assert doubt.middle[0] < doubt.middle[1] < doubt.middle[2]
    assert (doubt.worst >= doubt.middle).all()


def test_what_it_says():
    text = "\n".join(certificate_lines(replace(PROFILE, notes=notes(), temperature_c=21.0)))
    for words in (
        "mat 0123456789abcdef", "simulated: by hand", "Weights: 2 kg, 20 kg", "21 °C", "exponent 1.100 ± 0.020",
        "saturation 5.00 mS", "power with saturation 3.00 %", "4 on 2 cells, 1 of them on the way down; 1 left out",
        "largest of all: +50.0 % at row 1, column 1",
        "left panel: loads on one cell keep to its curve within 2.0 %, hysteresis 3.0 %",
        "right panel: loads on one cell keep to its curve within 2.5 %, hysteresis not measured", "1   125      100",
        "300 N   ±", "above the highest calibrated load", "- the heaviest load is 200 N",
    ):  # fmt: skip
        assert words in text, words
    assert max(map(len, text.splitlines())) <= 100


def test_profiles_that_know_less():
    film = replace(FILM, level_u=None, highest_n=math.nan, dead=((0, 1),))
    bare = replace(PROFILE, film=film, weights_n=(), weights=())
    text = "\n".join(certificate_lines(bare))
    assert "none; a person of known mass stood on it" in text
    assert "not known (a calibration of an older program)" in text
    assert "    75 dead" not in text  # one panel beside the other
    assert "75     dead" in text
    assert "Placements" not in text


@pytest.mark.parametrize("which", ["whole", "bare"])
def test_the_page_is_drawn(tmp_path, which):
    bare = replace(PROFILE, film=Film(CURVES, dead=((0, 0),)))
    profile = replace(PROFILE, notes=notes()) if which == "whole" else bare
    path = tmp_path / "deep" / "page.png"
    draw_certificate(path, profile)
    picture = matplotlib.image.imread(path)
    assert picture.shape[:2] == (1285, 909)
    ink = (picture[..., :3].mean(-1) < 0.6).mean()
    assert 0.005 < ink < 0.3
    # One hue: where there is colour at all, blue leads.
    red, blue = picture[..., 0], picture[..., 2]
    assert (red - blue < 0.05).mean() > 0.999


def test_a_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(GroundtoneError, match="cannot be written"):
        draw_certificate(tmp_path / "file" / "page.png", PROFILE)


def test_a_reader_of_german_finds_no_english_line_in_it():
    say = sentences("de")
    missed = []

    def turned(text):
        if say(text) is None:
            missed.append(text)
        return say(text) or text

    told = "the heaviest load is 200 N: people put 200 N and more on a cell, a lever or a guided press reaches it"
    known = replace(PROFILE, notes=notes(said=(told,)), temperature_c=21.0, film=replace(FILM, dead=((1, 0),)))
    text = "\n".join(certificate_lines(known, turned))
    for words in (
        "Kalibrierschein der Matte 0123456789abcdef", "Exponent 1,100 ± 0,020", "Potenz mit Sättigung 3,00 %", "  tot",
        "linke Hälfte: Lasten auf einer Zelle halten ihre Kurve auf 2,0 %", "- die schwerste Last", "200 N   ±  4,9 %",
    ):  # fmt: skip
        assert words in text
    # The builder's own note, and the list of scores: its names are turned one by one.
    assert {line.strip().split(" ")[0] for line in missed} == {"simulated:", "Potenz"}
