"""The film's law and the divider, against values worked out by hand."""

import dataclasses
import math

import numpy as np
import pytest

from groundtone.build.circuit import currents
from groundtone.build.divider import divide, fullest, resolution_n
from groundtone.build.eseries import E12
from groundtone.build.film_law import both, film_law, foot
from groundtone.build.layout_check import as_table, with_film
from groundtone.build.mat_file import mat_from, read_mat
from groundtone.build.pin_load import drivers_for, water_ohm
from groundtone.errors import BuildError
from groundtone.mat.network import Drivers, pin_current_a, readings

MAT = read_mat("starter")


def changed(mat, **electrical):
    return dataclasses.replace(mat, electrical=dataclasses.replace(mat.electrical, **electrical))


def test_a_film_by_hand():
    # 10 kOhm under 1 kg, 1 kOhm under 10 kg: exponent 1; 1 mS at 98.0665 N.
    law = film_law((10.0, 1.0), (1000.0, 10000.0))
    assert law.exponent == pytest.approx(1.0)
    assert law.level_s == pytest.approx(1e-3 / 98.0665)
    assert law.force_n(2e-3) == pytest.approx(196.133)
    assert law.ohm(9.80665) == pytest.approx(10000.0)


@pytest.mark.parametrize(
    ("kg", "ohm", "words"),
    [
        ((0.1, 10.0), (1e4, 1e3), "weights of 0.1 and 10 kg will not do"),
        ((8.0, 10.0), (1e4, 9e3), "too close together"),
        ((2.0, 10.0), (1e4, 3.0), "3 Ω under 10 kg is out of range"),
        ((2.0, 10.0), (9e6, 1e4), "9e+06 Ω under 2 kg is out of range"),
        ((2.0, 10.0), (1e4, 1e4), "the resistance must fall with the weight"),
        ((2.0, 10.0), (1e5, 1e2), "exponent would be 4.29"),
        ((2.0, 10.0), (1e4, 9e3), "exponent would be 0.07"),
    ],
)
def test_films_out_of_range_get_a_sentence(kg, ohm, words):
    with pytest.raises(BuildError) as refused:
        film_law(kg, ohm)
    assert words in str(refused.value)


def test_a_film_that_no_resistor_fits():
    with pytest.raises(BuildError, match="this film conducts too well"):
        divide(with_film(MAT, (2.0, 10.0), (70.0, 20.0)))
    with pytest.raises(BuildError, match="this film hardly conducts"):
        divide(with_film(MAT, (50.0, 140.0), (2e6, 1.1e6)))


def test_the_best_resistor_makes_the_least_noise_in_a_columns_sum():
    """By the definition: noise of the sum at both loads, as a geometric mean, over all resistors."""
    found = divide(MAT)
    law = found.law
    loads = []
    for force in (both(MAT.layout, 110 * 9.80665, 0.5, 0.5), both(MAT.layout, 110 * 9.80665 * 2, 0.85, 1.0)):
        loads.append(law.conductance_s(force).sum(0).max())
    ohms = np.geomspace(100, 10_000, 20_001)
    noise = np.sqrt(np.prod([(1 / ohms + load) ** 2 * ohms for load in loads], axis=0))
    assert found.best_ohm == pytest.approx(ohms[np.argmin(noise)], rel=1e-3)
    good = ohms[noise <= 1.1 * noise.min()]
    assert found.good_ohm == pytest.approx((good[0], good[-1]), rel=1e-3)
    assert found.e12_ohm == 820.0


def test_a_lone_cell_is_a_divider_of_three_resistors():
    found = divide(MAT, pulldown_ohm=1000.0)
    line = next(line for line in found.cells if line.force_n == 100.0)
    # driver 270, cell, pull-down 1000
    assert line.reading == pytest.approx(1000 / (270 + line.ohm + 1000))
    low, high = found.cell_n
    assert found.law.ohm(low) == pytest.approx(1000 / (3 * found.sigma) - 1270)
    assert high == math.inf  # behind 270 Ω no cell alone brings its column to 0.8
    earlier = divide(changed(MAT, series_ohm=100.0), pulldown_ohm=1000.0)
    assert earlier.law.ohm(earlier.cell_n[1]) == pytest.approx(1000 / 0.8 - 1150)
    # 2.5 steps of noise and rounding, two readings
    assert found.sigma == pytest.approx(math.sqrt((2.5**2 + 1 / 12) / 2) / 4096)


def test_resolution_with_ideal_drivers_is_the_closed_form():
    """G = Gs v / (1 - v) for a lone cell: dG = Gs / (1 - v)² for its own reading, and G / (1 - S) for each other's."""
    law = film_law((2.0, 10.0), (17300.0, 4070.0))
    drivers = Drivers.equal(4, 2, 1e-6, 1e-6, 1000.0)
    force = np.zeros((4, 2))
    force[1, 1] = 150.0
    g = float(law.conductance_s(np.array(150.0)))
    s = g / (g + 1e-3)
    own, others = 1e-3 / (1 - s) + g / (1 - s), g / (1 - s)
    sigma_g = 1e-4 * math.sqrt(own**2 + 3 * others**2)
    expected = sigma_g * 150.0 / (law.exponent * g)
    assert resolution_n(law, drivers, force, 1, 1, 1e-4) == pytest.approx(expected, rel=1e-5)


def test_resolution_agrees_with_drawn_noise():
    """The same by brute force: 4,000 noisy frames through the exact inverse."""
    from groundtone.mat.network import conductances

    found = divide(MAT)
    law, drivers = found.law, drivers_for(MAT, found.pulldown_ohm)
    force = both(MAT.layout, 900.0, 0.5, 0.5)
    row, column = np.unravel_index(np.argmax(force), force.shape)
    force[row, column] = 50.0
    reading = readings(law.conductance_s(force)[None], drivers)
    noisy = reading + found.sigma * np.random.default_rng(4).standard_normal((4000, *force.shape))
    cells, _ = conductances(noisy, drivers)
    newtons = (cells[:, row, column] / law.level_s) ** (1 / law.exponent)
    line = next(line for line in found.cells if line.force_n == 50.0)
    assert resolution_n(law, drivers, force, int(row), int(column), found.sigma) == pytest.approx(
        newtons.std(), rel=0.05
    )
    assert line.alone_n < newtons.std() < 1.5 * line.standing_n


def test_a_column_fills_and_the_noise_gain_with_it():
    mat = changed(MAT, series_ohm=100.0)
    found = divide(mat)
    sums = [line.sum_v for line in found.columns]
    assert sums == sorted(sums)
    for line in found.columns:
        assert line.gain == pytest.approx(1 / (1 - line.sum_v))
    drivers = drivers_for(mat, found.pulldown_ohm)
    assert fullest(MAT.layout, found.law, drivers, found.foot_n) == pytest.approx(0.8, abs=1e-6)


def test_two_joined_rows_by_hand():
    """An empty mat: the high pin feeds the low one through both row resistors and the join."""
    found = divide(MAT)
    e = MAT.electrical
    joined = found.currents[1]
    by_hand = 1e3 * e.supply_v / (e.series_ohm + e.pin_high_ohm + 1.0 + e.series_ohm + e.pin_low_ohm)
    assert joined.name == "two rows joined, mat empty"
    assert joined.pin_high_ma == pytest.approx(by_hand, rel=1e-9)
    assert joined.pin_low_ma == pytest.approx(by_hand, rel=1e-9)
    assert by_hand == pytest.approx(6.33, abs=0.01)


def test_water_by_hand():
    # 22 mm of water 1 mm deep and 2 x 138 mm long: 0.022 / (0.05 * 0.001 * 0.276) ohm
    assert water_ohm(MAT) == pytest.approx(0.022 / (0.05 * 0.001 * 0.276))
    dry = dataclasses.replace(MAT, water=dataclasses.replace(MAT.water, depth_mm=0.0))
    assert divide(dry).currents[3].pin_high_ma == pytest.approx(0.0, abs=1e-9)


def test_circuit_agrees_with_the_programs_network():
    rng = np.random.default_rng(3)
    cells = 10 ** rng.uniform(-6, -3.3, (7, 4))
    drivers = Drivers(rng.uniform(120, 190, 7), rng.uniform(100, 150, 7), rng.uniform(900, 1100, 4))
    found = currents(cells, drivers, 3.3)
    reading = readings(cells[None], drivers)
    np.testing.assert_allclose(found.reading, reading[0], rtol=1e-10)
    high, low = pin_current_a(cells[None], reading, drivers, 3.3)
    np.testing.assert_allclose(found.high_a, high[0], rtol=1e-9)
    np.testing.assert_allclose(found.sunk_a.max(0), low[0], rtol=1e-9)


def test_a_row_at_ground_or_at_the_supply_by_hand():
    e, found = MAT.electrical, {line.name: line for line in divide(MAT).currents}
    assert found["a row at ground"].pin_high_ma == pytest.approx(1e3 * e.supply_v / (e.series_ohm + e.pin_high_ohm))
    assert found["a row at 3.3 V"].pin_low_ma == pytest.approx(1e3 * e.supply_v / (e.series_ohm + e.pin_low_ohm))
    earlier = {line.name: line for line in divide(changed(MAT, series_ohm=100.0)).currents}
    assert earlier["a row at ground"].pin_high_ma == pytest.approx(22.0)
    assert earlier["a row at 3.3 V"].pin_low_ma == pytest.approx(25.4, abs=0.05)


def test_small_row_resistors_are_refused_and_the_remedy_works():
    for ohm, whose in ((33.0, "two rows joined"), (100.0, "a row at 3.3 V")):
        refusals = divide(changed(MAT, series_ohm=ohm)).refusals
        assert any(sentence.startswith(whose) for sentence in refusals)
        assert all("put 220 Ω into each row" in said or "larger resistors in the rows" in said for said in refusals)
    assert divide(changed(MAT, series_ohm=220.0)).refusals == []


def test_a_pin_near_its_figure_is_said_and_the_remedy_keeps_it_under():
    found = divide(MAT)
    assert found.refusals == []
    (note,) = [note for note in found.notes if "allowed in a fault up to 15 mA" in note]
    assert "270 Ω in each row would keep it under" in note
    mended = divide(changed(MAT, series_ohm=270.0))
    assert max(max(line.pin_high_ma, line.pin_low_ma) for line in mended.currents) < 12.0
    assert not any("allowed in a fault" in note for note in mended.notes)


@pytest.mark.parametrize(
    ("wrong", "mends"),
    [
        ({"input_ohm": 0.0}, "electrical.input_ohm = 1000"),
        ({"input_ohm": 470.0}, "electrical.input_ohm = 1000"),
        ({"output_ohm": 100.0}, "electrical.output_ohm = 220"),
        ({"suppressor_pf": 400.0}, "electrical.suppressor_pf = 50"),
        ({"strike_series_ohm": 10e3}, "electrical.strike_series_ohm = 100000"),
        ({"clamp_leak_ua": 2.0}, "electrical.clamp_leak_ua = 0.05"),
    ],
)
def test_what_does_not_protect_the_chip_is_refused_with_the_value_that_does(wrong, mends):
    (refusal,) = divide(changed(MAT, **wrong)).refusals
    assert mends in refusal
    name, value = mends.removeprefix("electrical.").split(" = ")
    assert divide(changed(MAT, **{name: float(value)})).refusals == []


def test_a_description_of_before_is_read_and_its_mat_refused():
    later = ("suppressor_pf", "cell_pf", "input_ohm", "output_ohm", "strike_series_ohm", "clamp_leak_ua")
    table = as_table(MAT)
    for name in later:
        del table["electrical"][name]
    table["electrical"]["series_ohm"] = 100.0
    earlier = mat_from(table, "earlier")
    assert (earlier.electrical.input_ohm, earlier.electrical.output_ohm) == (0.0, 0.0)
    refused = " ".join(divide(earlier).refusals)
    for mends in ("put 220 Ω", "input_ohm = 1000", "output_ohm = 220", "strike_series_ohm", "clamp_leak_ua"):
        assert mends in refused


def test_a_film_that_conducts_well_is_refused_in_working_order():
    """A short path through film and a small pull-down: the pin itself is overloaded, without any fault."""
    mat = changed(with_film(MAT, (2.0, 10.0), (1500.0, 300.0)), series_ohm=22.0)
    found = divide(mat)
    assert any(sentence.startswith("in order, at the hardest moment") for sentence in found.refusals)
    assert found.currents[0].pin_high_ma > 12.0
    assert "put 220 Ω into each row" in found.refusals[0]
    assert divide(changed(mat, series_ohm=220.0)).currents[0].pin_high_ma < 12.0


def test_salt_water_is_refused():
    salt = dataclasses.replace(MAT, water=dataclasses.replace(MAT.water, conductivity_s_m=5.0))
    assert any("keep it dry" in sentence for sentence in divide(changed(salt, series_ohm=100.0)).refusals)
    assert divide(salt).refusals == []  # 220 Ω bear even that


def test_columns_that_fill_are_refused():
    found = divide(MAT, pulldown_ohm=nearest_large())
    assert any("choose a smaller pull-down than 33 kΩ" in sentence for sentence in found.refusals)


def nearest_large():
    assert 33 in E12
    return 33_000.0


def test_a_foots_load_is_shared_over_what_it_covers():
    layout = MAT.layout
    load = foot(layout, 600.0, 0.25)
    assert load.sum() == pytest.approx(600.0)
    # The foot is 270 mm long in a panel of 320: from 25 to 295. The ball, from 0.60, begins at 187 mm: row 5 (160-192).
    assert load[5:].sum() == pytest.approx(150.0)
    assert load[:4].sum() == pytest.approx(450.0)
    total = both(layout, 1000.0, 0.7, 0.5)
    assert total[:, :3].sum() == pytest.approx(700.0)
    np.testing.assert_allclose(total[:, 0], total[:, 2])
