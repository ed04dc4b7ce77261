"""The fit engine on the NIST StRD nonlinear regression sets (see nist/README.md): both starts, certified digits."""

import re
from pathlib import Path

import numpy as np
import pytest

from groundtone.calibration.fitting.lsq import FitError, fit

FOLDER = Path(__file__).parent / "nist"


def rational(b, x, top):
    """Polynomial of `top` terms over 1 + the rest."""
    above = sum(b[i] * x**i for i in range(top))
    return above / (1 + sum(b[top + i] * x ** (i + 1) for i in range(len(b) - top)))


def periods(b, x):
    """A yearly and two other periods (ENSO)."""
    out = b[0] + b[1] * np.cos(2 * np.pi * x / 12) + b[2] * np.sin(2 * np.pi * x / 12)
    for at in (3, 6):
        out = out + b[at + 1] * np.cos(2 * np.pi * x / b[at]) + b[at + 2] * np.sin(2 * np.pi * x / b[at])
    return out


MODELS = {
    "Bennett5": lambda b, x: b[0] * (b[1] + x) ** (-1 / b[2]),
    "BoxBOD": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "ENSO": periods,
    "Eckerle4": lambda b, x: (b[0] / b[1]) * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    "Gauss1": lambda b, x: (
        b[0] * np.exp(-b[1] * x)
        + b[2] * np.exp(-((x - b[3]) ** 2) / b[4] ** 2)
        + b[5] * np.exp(-((x - b[6]) ** 2) / b[7] ** 2)
    ),
    "Hahn1": lambda b, x: rational(b, x, 4),
    "Kirby2": lambda b, x: rational(b, x, 3),
    "Lanczos3": lambda b, x: b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x),
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "MGH10": lambda b, x: b[0] * np.exp(b[1] / (x + b[2])),
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "Misra1a": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Misra1b": lambda b, x: b[0] * (1 - (1 + b[1] * x / 2) ** -2),
    "Nelson": lambda b, x: b[0] - b[1] * x[:, 0] * np.exp(-b[2] * x[:, 1]),
    "Rat42": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "Rat43": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "Roszman1": lambda b, x: b[0] - b[1] * x - np.arctan(b[2] / (x - b[3])) / np.pi,
    "Thurber": lambda b, x: rational(b, x, 4),
}


def read(name):
    """Starts, certified values and deviations, residual sum of squares, y and x of a set."""
    text = (FOLDER / f"{name}.dat").read_text()
    rows = re.findall(r"^\s*b\d+\s*=\s*(.+)$", text, re.M)
    table = np.array([[float(value) for value in row.split()[:4]] for row in rows])
    squares = float(re.search(r"Residual Sum of Squares:\s*(\S+)", text).group(1))
    first, last = map(int, re.search(r"Data\s+\(lines (\d+) to (\d+)\)", text).groups())
    data = np.array([[float(v) for v in line.split()] for line in text.splitlines()[first - 1 : last]])
    x = data[:, 1] if data.shape[1] == 2 else data[:, 1:]
    return table[:, 0], table[:, 1], table[:, 2], table[:, 3], squares, data[:, 0], x


def digits(found, certified):
    """Common digits: minus the logarithm of the largest relative difference."""
    return -np.log10(np.abs(found / certified - 1).max() + 1e-16)


@pytest.mark.parametrize("start", [1, 2])
@pytest.mark.parametrize("name", sorted(MODELS))
def test_certified_values_from_both_starts(name, start):
    first, second, value, deviation, squares, y, x = read(name)
    if name == "Nelson":
        # The set's model is for the logarithm of y.
        y = np.log(y)
    found = fit(lambda b: MODELS[name](b, x), first if start == 1 else second, y)
    assert digits(found.value, value) >= 6
    assert digits(found.u, deviation) >= 4
    assert float(found.residual @ found.residual) == pytest.approx(squares, rel=1e-6)
    assert found.freedom == y.size - value.size


def test_all_twenty_files_are_used():
    assert {path.stem for path in FOLDER.glob("*.dat")} == set(MODELS)
    assert len(MODELS) == 20


def test_a_fit_without_an_answer_says_so():
    x = np.linspace(0, 1, 9)
    with pytest.raises(FitError, match="cannot tell the parameters apart"):
        fit(lambda b: (b[0] + b[1]) * x, np.array([1.0, 2.0]), x)
    with pytest.raises(FitError, match="at least 1 more"):
        fit(lambda b: b[0] * np.array([1.0]) + b[1], np.array([1.0, 2.0]), np.array([1.0]))
    with pytest.raises(FitError, match="no value at the start"):
        fit(lambda b: np.log(b[0]) * x, np.array([-1.0]), x)
    with pytest.raises(FitError, match="not a number"):
        fit(lambda b: b[0] * x, np.array([1.0]), np.where(x > 0.5, np.nan, x))
