"""Films pooled: what mats say of their film makes one expect the next mat's, and is said."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from groundtone.calibration.checking.check_log import KeptCheck
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.expected import TYPICAL, FilmFacts
from groundtone.calibration.fitting.fit import film_from_placements, fit_curves
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.pooled_films import (
    digest_of,
    expect,
    expected_film,
    facts_of,
    read_films,
    write_films,
)
from groundtone.calibration.profile import read_profile
from groundtone.calibration.shoes.unknown_film import _usual
from groundtone.errors import CalibrationError

ROWS, COLUMNS = 16, 8
STEEP = 1.4


def film_of(about, exponent, level=4.0, inverse=0.0):
    return FilmFacts(about, level, 0.2, exponent, 0.005, 0.05, inverse, 0.1, 0.0, 0.6, 0.05, math.nan, "bench")


def pool(count=6, exponent=STEEP):
    return [film_of(f"{i}", exponent + 0.01 * (i % 3 - 1), 4.0 + 0.05 * (i % 3 - 1)) for i in range(count)]


def test_mats_that_agree_are_believed_the_more_the_more_they_are():
    assert expect(pool(1)) is TYPICAL
    two, six, twenty = (expect(pool(count)) for count in (2, 6, 20))
    off = [abs(each.values["exponent"] - STEEP) for each in (two, six, twenty)]
    wide = [each.widths["exponent"] for each in (two, six, twenty)]
    assert off[0] > off[1] > off[2]
    assert wide[0] > wide[1] > wide[2]
    assert off[1] < 0.03
    assert all(o < 2 * w for o, w in zip(off, wide, strict=True))
    assert wide[2] < 0.04
    assert six.level == pytest.approx(4.0, abs=0.05)
    # Mats that differ make it wide again.
    apart = expect([film_of(f"{i}", STEEP + 0.2 * (-1) ** i) for i in range(6)])
    assert apart.widths["exponent"] > 0.18


def light_run(weights=(100.0,), seed=1):
    """One load on each cell of a steep film: its exponent cannot be told from it."""
    rng = np.random.default_rng(seed)
    curves = Curves(rng.normal(4.0, 0.2, (ROWS, COLUMNS)), STEEP, 0.0, -4.0, 2.0)
    of = {weight: curves.conductance_of(weight) for weight in weights}
    made = []
    for row, column in np.ndindex(ROWS, COLUMNS):
        for weight in weights:
            grid = np.zeros((ROWS, COLUMNS))
            grid[row, column] = of[weight][row, column]
            made.append(Placement(row, column, weight, grid, slice(0, 1), False, 0.0))
    return made, curves


def test_what_one_load_cannot_tell_the_pool_does():
    made, curves = light_run()
    at_20_n = curves.conductance_of(20.0)
    error = {}
    for name, expected in (("typical", TYPICAL), ("pooled", expect(pool(12)))):
        result = film_from_placements(made, ROWS, COLUMNS, expected=expected)
        # Of all cells together: how much a cell has for itself one load does not tell from scatter.
        error[name] = abs(float(np.log(result.film.curves.force_n(at_20_n) / 20.0).mean()))
    assert error["pooled"] < 0.35 * error["typical"]
    said = film_from_placements(made, ROWS, COLUMNS, expected=expect(pool(12))).fit.said
    assert any("from 12 pooled mats, not the typical film's: exponent 1.39" in sentence for sentence in said)
    # Where the placements tell, they count.
    made, _ = light_run((15.0, 40.0, 100.0, 200.0))
    fit = fit_curves(made, ROWS, COLUMNS, expected=expect(pool(12, 1.0)))
    assert fit.curves.exponent == pytest.approx(STEEP, abs=0.02)


def test_a_film_that_was_not_measured_is_the_pools():
    film = expected_film(2, 4, expect(pool(12)))
    assert film.curves.exponent == pytest.approx(STEEP, abs=0.03)
    assert film.curves.level == pytest.approx(np.full((2, 4), 4.0), abs=0.05)
    assert film.level_u is None
    assert expected_film(2, 4, TYPICAL).curves.exponent == 1.1


def test_films_that_do_not_agree_leave_exponents_that_films_have():
    apart = expect([film_of("a", 0.5), film_of("b", 2.0)])
    assert min(_usual(apart, apart.values["exponent"]).exponents) > 0.3


def test_ageing_is_told_by_checks_that_lie_apart(request):
    profile = read_profile(request.config.rootpath / "calibration" / "example" / "mat.json")
    check = KeptCheck("2026-01-01T10:00:00+00:00", profile.uid, "ready", 0.0, (), (), (), 0.0, 0.0, 0.0, "", ())
    later = replace(check, date="2026-03-02T22:00:00+00:00", common=math.expm1(0.04))
    assert facts_of(profile, [check, later]).ageing == pytest.approx(0.04 / 60.5 * 30.4, rel=1e-6)
    assert math.isnan(facts_of(profile, [check]).ageing)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"exponent": 30.0}, "holds no films"),
        ({"level": None}, "holds no films"),
        ({"level": 10**400}, "holds no films"),
        ({"about": 7}, "holds no films"),
        ({"groundtone films": 2}, "another program version"),
        (None, "holds no films"),
    ],
)
def test_files_that_are_none_are_refused(tmp_path, change, words):
    path = tmp_path / "films.json"
    write_films(path, [film_of(digest_of("a"), 1.1)])
    table = json.loads(path.read_text("utf-8"))
    if change is None:
        table = []
    elif "groundtone films" in change:
        table |= change
    else:
        table["films"][0] |= change
    path.write_text(json.dumps(table), "utf-8")
    with pytest.raises(CalibrationError, match=words):
        read_films(path)
