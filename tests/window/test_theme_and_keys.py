"""Colours that can be read and told apart, and a key for everything."""

from collections import Counter

import numpy as np
import pytest

from groundtone.app.window.keys import KEYS, PLACES, labelled
from groundtone.app.window.theme import APART, PAIRS, THEMES, call_of, em_of, stylesheet

# Red-green blindness as a linear map of linear RGB, severity 1 (Machado, Oliveira and Fernandes, IEEE Trans. Vis.
# Comput. Graph. 15, 2009; from memory).
BLIND = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


def linear(colour):
    value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def contrast(a, b):
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05) of relative luminances."""
    one, other = (float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (a, b))
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def lab(rgb):
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ np.clip(rgb, 0, 1)
    part = xyz / [0.9505, 1.0, 1.089]
    f = np.where(part > 216 / 24389, np.cbrt(part), (24389 / 27 * part + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_formula_is_that_of_the_standard():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("name", THEMES)
@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair[0]} on {pair[1]}")
def test_every_pair_can_be_read(name, pair):
    theme = vars(THEMES[name])
    assert contrast(theme[pair[0]], theme[pair[1]]) >= pair[2]


@pytest.mark.parametrize("name", THEMES)
@pytest.mark.parametrize("kind", [None, *BLIND])
@pytest.mark.parametrize("pair", APART, ids="-".join)
def test_meanings_stay_apart_with_red_green_blindness(name, kind, pair):
    theme = vars(THEMES[name])
    matrix = np.eye(3) if kind is None else np.array(BLIND[kind])
    a, b = (lab(matrix @ linear(theme[colour])) for colour in pair)
    # CIE 1976; 20 is about ten times what can just be seen.
    assert np.linalg.norm(a - b) > 20


def test_the_style_sheet_names_no_colour_outside_the_theme():
    import re

    for theme in THEMES.values():
        used = set(re.findall(r"#[0-9A-Fa-f]{6}", stylesheet(theme, 16, 80)))
        assert used <= set(vars(theme).values())


SIZES = ((960, 540), (1280, 720), (1920, 1080), (2560, 1440), (3840, 2160))


def test_main_words_grow_with_the_window():
    assert [em_of(*size) for size in SIZES] == [13, 16, 20, 24, 32]
    assert [call_of(*size) for size in SIZES] == [60, 80, 120, 160, 240]
    assert em_of(2560, 1080) == em_of(1920, 1080)
    assert "font-size: 80px" in stylesheet(THEMES["light"], 16, 80)


def test_no_key_does_two_things_in_one_place():
    for place in ("pupils", *PLACES):
        keys = Counter(key.key for key in KEYS if key.place in ("", place))
        assert [key for key, count in keys.items() if count > 1] == []


def test_names_are_unique_and_places_exist():
    assert max(Counter(key.name for key in KEYS).values()) == 1
    assert {key.place for key in KEYS} <= {"", "pupils", *PLACES}
    assert labelled("next pupil") == "Next pupil  [N]"
