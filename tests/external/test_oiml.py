"""Weight classes: maximum permissible errors of OIML R 111-1:2004, table 1, as Greek law on market weights cites them
(public consultation text on opengov.gr, article 146: classes M1, M2, M3 by nominal mass, in mg)."""

import pytest

from groundtone.calibration.guided.weights import oiml_tolerance_kg, weight
from groundtone.errors import CalibrationError

CITED_MG = """
50 kg 2500 8000 25000
20 kg 1000 3000 10000
10 kg 500 1600 5000
5 kg 250 800 2500
2 kg 100 300 1000
1 kg 50 160 500
500 g 25 80 250
200 g 10 30 100
100 g 5 16 50
50 g 3 10 30
20 g 2.5 8 25
10 g 2 6 20
5 g 1.6 5 16
2 g 1.2 4 12
1 g 1 3 10
"""
ROWS = [line.split() for line in CITED_MG.split("\n") if line]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0] + row[1])
def test_tolerances(row):
    mass = float(row[0]) * (1.0 if row[1] == "kg" else 0.001)
    for name, milligrams in zip(("M1", "M2", "M3"), row[2:], strict=True):
        assert oiml_tolerance_kg(name, mass) == pytest.approx(float(milligrams) * 1e-6, rel=1e-12)


def test_the_standard_uncertainty_is_that_of_a_rectangle():
    # GUM 4.3.7: a / sqrt(3); 500 mg on 1 kg.
    assert weight(1.0, oiml_class="M3").u_kg == pytest.approx(0.5e-3 / 3**0.5, rel=1e-12)


def test_what_the_table_does_not_have():
    with pytest.raises(CalibrationError, match="M1, M2 or M3"):
        oiml_tolerance_kg("F1", 1.0)
    with pytest.raises(CalibrationError, match=r"no weight of 3 kg"):
        oiml_tolerance_kg("M1", 3.0)
