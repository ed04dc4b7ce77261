"""Weights as a person types and files them: newtons by hand, uncertainties by hand, pounds asked about."""

from pathlib import Path

import pytest

from groundtone.calibration.guided.weight_sets import read_weight_set, set_of_masses, weight_set_from
from groundtone.calibration.guided.weights import Puck, Weight, load, mass_of, weight
from groundtone.errors import CalibrationError
from groundtone.gravity import local_gravity

EXAMPLES = Path(__file__).parents[2] / "calibration" / "weights"


@pytest.mark.parametrize(
    ("words", "mass"),
    [("5", 5.0), (" 5 kg", 5.0), ("1,5kg", 1.5), ("750 g", 0.75), ("22.05 kg", 22.05), ("7.5", 7.5), ("10.12", 10.12)],
)
def test_masses_as_typed(words, mass):
    assert mass_of(words) == pytest.approx(mass, rel=1e-12)


@pytest.mark.parametrize(
    ("words", "asks"),
    [
        ("11 lb", r"11 pounds: are 4\.99 kg meant\?"),
        ("45lbs", r"are 20\.41 kg meant\?"),
        ("22.05", r"22\.05 is 10 kg in pounds: which is meant\?"),
        ("11.02", r"is 5 kg in pounds: which is meant\?"),
        ("500", "pounds or grams meant"),
        ("0", "from 0.02 to 60"),
        ("-5", "not a mass"),
        ("five", "not a mass"),
        ("", "not a mass"),
        ("5 stone", "'stone' is not known"),
        ("nan", "not a mass"),
    ],
)
def test_what_is_asked_about_or_refused(words, asks):
    with pytest.raises(CalibrationError, match=asks) as caught:
        mass_of(words)
    assert "type" in str(caught.value)


def test_a_body_has_other_limits():
    assert mass_of("78.4", least_kg=20, most_kg=160) == 78.4
    with pytest.raises(CalibrationError, match="pounds or grams meant"):
        mass_of("173", least_kg=20, most_kg=160)


@pytest.mark.parametrize("mass", [0.0, -1.0, float("nan"), float("inf"), 0.001, 500.0])
def test_absurd_masses(mass):
    with pytest.raises(CalibrationError, match=r"give|lightest"):
        weight(mass)


def test_what_is_known_of_a_weight_by_hand():
    # 3 % of 5 kg unweighed, half a per cent weighed, 5 g at least; each over the root of three.
    assert weight(5.0).u_kg == pytest.approx(0.15 / 3**0.5)
    assert weight(5.0, weighed=True).u_kg == pytest.approx(0.025 / 3**0.5)
    assert weight(0.5, weighed=True).u_kg == pytest.approx(0.005 / 3**0.5)
    assert weight(5.0, tolerance_kg=0.01).u_kg == pytest.approx(0.01 / 3**0.5)
    for wrong in (-0.1, 3.0, float("nan")):
        with pytest.raises(CalibrationError, match="tolerance"):
            weight(5.0, tolerance_kg=wrong)


def test_a_stack_on_a_puck_by_hand():
    made = load((Weight("a", 5.0, 0.03), Weight("b", 2.0, 0.04)), Puck(0.05, 0.0), 9.8)
    assert made.force_n == pytest.approx(9.8 * 7.05)
    assert made.u == pytest.approx(0.05 / 7.05)
    assert made.words == "a + b"
    # A lever of 1 : 4 known within 1 %: four times the weight, and its own part of the uncertainty.
    lever = load((Weight("l", 5.0, 0.02, 4.0, 0.01),), gravity=10.0)
    assert lever.force_n == pytest.approx(200.0)
    assert lever.u == pytest.approx((0.004**2 + 0.01**2) ** 0.5)
    with pytest.raises(CalibrationError, match="at least one"):
        load(())


def test_masses_alone_are_enough():
    made = set_of_masses((10.0, 2.0, 5.0))
    assert [each.words for each in made.loads] == ["2 kg", "5 kg", "10 kg"]
    assert made.loads[1].force_n == pytest.approx(5 * 9.80665)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_examples(path):
    made = read_weight_set(path)
    assert "invented" in made.note
    force = [each.force_n for each in made.loads]
    # Every example spans what a saturation needs (four loads) up to about 200 N.
    assert len(force) >= 4
    assert force == sorted(force)
    assert 190 < force[-1] < 300
    assert max(each.u for each in made.loads) < 0.02


def test_there_are_three_examples():
    assert sorted(path.stem for path in EXAMPLES.glob("*.toml")) == ["household", "kitchen", "oiml-m3"]


def test_local_gravity_in_a_set():
    rows = [{"weighed_kg": 10, "name": "ten"}]
    made = weight_set_from({"weights": rows, "latitude_deg": 60, "height_m": 500}, "here")
    assert made.loads[0].force_n == pytest.approx(10 * local_gravity(60, 500))


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({}, "has no weights"),
        ({"weights": []}, "has no weights"),
        ({"weights": [{}]}, "weight 1 of f has no mass"),
        ({"weights": [{"nominal_kg": 0}]}, "weight 1 of f: a mass of 0 kg"),
        ({"weights": [{"nominal_kg": "5"}]}, "give a plain number"),
        ({"weights": [{"nominal_kg": True}]}, "give a plain number"),
        ({"weights": [{"nominal_kg": 5, "clas": "M1"}]}, "has clas"),
        ({"weights": [{"nominal_kg": 3, "class": "M1"}]}, "no weight of 3 kg"),
        ({"weights": [{"nominal_kg": 5}, {"nominal_kg": 5}]}, "same name"),
        ({"weights": [{"nominal_kg": 5}], "loads": [["6 kg"]]}, "'6 kg', which is not among"),
        ({"weights": [{"nominal_kg": 5}], "loads": [["5 kg", "5 kg"]]}, "same weight twice"),
        ({"weights": [{"nominal_kg": 5}], "loads": "all"}, "lists of names"),
        ({"weights": [{"nominal_kg": 5, "ratio": 0}]}, "ratio"),
        ({"weights": [{"nominal_kg": 5}], "puck": {"mass_kg": -1}}, "puck of f"),
        ({"weights": [{"nominal_kg": 5}], "puck": 3}, "must be a table"),
        ({"weights": [{"nominal_kg": 5}], "latitude_deg": 100}, "on no map"),
    ],
)
def test_files_that_will_not_do(table, says):
    with pytest.raises(CalibrationError, match=says):
        weight_set_from(table, "f")


def test_files_that_are_none(tmp_path):
    with pytest.raises(CalibrationError, match="check its name"):
        read_weight_set(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_text("[[weights\n")
    with pytest.raises(CalibrationError, match="is not TOML"):
        read_weight_set(tmp_path / "bad.toml")
