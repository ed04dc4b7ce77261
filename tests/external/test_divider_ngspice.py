"""The builder's divider against ngspice: currents and force range of 50 random films, within 0.1 %.

Source: ngspice.sourceforge.io, Debian package ngspice. The circuits are written here, resistor by resistor, from the
film's law as the test draws it; all of them stand side by side in one netlist, so that ngspice runs twice in all.
"""

import dataclasses
import shutil
import subprocess

import numpy as np
import pytest

from groundtone.build.divider import divide
from groundtone.build.film_law import foot
from groundtone.build.layout_check import with_film
from groundtone.build.mat_file import read_mat
from groundtone.build.pin_load import hardest_n, joins_when_wet

FILMS = 50
G = 9.80665


class Circuits:
    """Many circuits in one netlist; each one is a mat with one row high."""

    def __init__(self, mat):
        self.mat = mat
        self.lines = ["groundtone circuits", ".options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-18"]
        self.count = 0

    def add(self, cells, high, pulldown, joins=()):
        """cells: {(row, column): ohm}; returns the circuit's number."""
        e, layout, n = self.mat.electrical, self.mat.layout, self.count
        self.count += 1
        add = self.lines.append
        for k in range(layout.rows):
            if k == high:
                add(f"V{n}x{k} p{n}x{k} 0 {e.supply_v}")
                add(f"RD{n}x{k} p{n}x{k} r{n}x{k} {e.series_ohm + e.pin_high_ohm}")
            else:
                add(f"RD{n}x{k} 0 r{n}x{k} {e.series_ohm + e.pin_low_ohm}")
        for (k, c), ohm in cells.items():
            add(f"RG{n}x{k}x{c} r{n}x{k} c{n}x{c} {ohm:.12g}")
        for c in range(layout.columns):
            add(f"RS{n}x{c} c{n}x{c} 0 {pulldown}")
        for i, (a, b, ohm) in enumerate(joins):
            add(f"RJ{n}x{i} r{n}x{a} r{n}x{b} {ohm:.12g}")
        return n

    def run(self, folder):
        """Node voltages by name."""
        assert shutil.which("ngspice"), "install ngspice (Debian: apt install ngspice)"
        netlist, raw = folder / "all.cir", folder / "all.raw"
        control = [".control", "set filetype=ascii", "op", f"write {raw}", "quit", ".endc", ".end"]
        netlist.write_text("\n".join([*self.lines, *control]) + "\n")
        raw.unlink(missing_ok=True)
        run = subprocess.run(["ngspice", "-b", str(netlist)], capture_output=True, text=True, timeout=120, check=False)
        assert raw.exists(), run.stdout[-500:] + run.stderr[-500:]
        text = raw.read_text()
        head, values = text.split("Values:")
        names = [line.split()[1] for line in head.split("\nVariables:")[1].strip().splitlines() if line.split()]
        numbers = [float(word) for word in values.split()[1:]]
        return dict(zip(names, numbers, strict=True))

    def row_volts(self, volts, n):
        return np.array([volts[f"v(r{n}x{k})"] for k in range(self.mat.layout.rows)])

    def column_volts(self, volts, n):
        return np.array([volts[f"v(c{n}x{c})"] for c in range(self.mat.layout.columns)])


def films():
    """Mats with random films, resistors and persons; half of them on each of the two builds."""
    rng = np.random.default_rng(20)
    for number in range(FILMS):
        mat = read_mat("starter" if number % 2 else "reference")
        kg = float(rng.uniform(0.5, 5.0)), float(rng.uniform(8.0, 30.0))
        at_heavy = float(10 ** rng.uniform(2.3, 4.5))
        exponent = float(rng.uniform(0.5, 1.3))
        ohm = at_heavy * (kg[1] / kg[0]) ** exponent, at_heavy
        mat = with_film(mat, kg, ohm)
        person = dataclasses.replace(mat.person, mass_kg=float(rng.uniform(40, 130)))
        electrical = dataclasses.replace(
            mat.electrical, series_ohm=float(rng.uniform(40, 300)), pin_high_ohm=float(rng.uniform(20, 70)),
            pin_low_ohm=float(rng.uniform(20, 70)),
        )  # fmt: skip
        # The film's law from the two points, once more: R = R2 (F / F2)^-p.
        yield dataclasses.replace(mat, person=person, electrical=electrical), (kg[1] * G, at_heavy, exponent)


def ohms(force, law):
    at_n, ohm, exponent = law
    return {(int(k), int(c)): ohm * (force[k, c] / at_n) ** -exponent for k, c in zip(*np.nonzero(force), strict=True)}


@pytest.fixture(scope="module")
def found():
    return [(mat, law, divide(mat)) for mat, law in films()]


def test_the_largest_currents_agree_with_ngspice(found, tmp_path):
    batches = {name: Circuits(read_mat(name)) for name in ("starter", "reference")}
    wanted = []
    for mat, law, result in found:
        batch = batches[mat.layout.id.split("-")[0]]
        batch.mat = mat
        force = hardest_n(mat)
        rows = force.sum(1)
        busiest = int(np.argmax(rows[:-1] + rows[1:]))
        for line, joins in (
            (result.currents[0], []),
            (result.currents[2], [(busiest, busiest + 1, mat.water.joined_ohm)]),
            (result.currents[4], joins_when_wet(mat)),
        ):
            numbers = [batch.add(ohms(force, law), k, result.pulldown_ohm, joins) for k in range(mat.layout.rows)]
            wanted.append((mat, batch, line, numbers))
    volts = {id(batch): batch.run(tmp_path) for batch in batches.values()}
    assert len(wanted) == 3 * FILMS
    for mat, batch, line, numbers in wanted:
        e = mat.electrical
        high, low, total = [], [], []
        for k, n in enumerate(numbers):
            row = batch.row_volts(volts[id(batch)], n)
            high.append((e.supply_v - row[k]) / (e.series_ohm + e.pin_high_ohm))
            sunk = np.delete(row, k) / (e.series_ohm + e.pin_low_ohm)
            low.append(sunk.max())
            total.append(sunk.sum())
        expected = 1e3 * np.array([max(high), max(low), max(total)])
        np.testing.assert_allclose([line.pin_high_ma, line.pin_low_ma, line.total_ma], expected, rtol=1e-3)


def test_the_force_range_agrees_with_ngspice(found, tmp_path):
    """A tenth of a per cent less force reads less than the range's end says, a tenth more reads more."""
    batches = {name: Circuits(read_mat(name)) for name in ("starter", "reference")}
    lone, feet = [], []
    for mat, law, result in found:
        batch = batches[mat.layout.id.split("-")[0]]
        batch.mat = mat
        for end, reading in zip(result.cell_n, (3 * result.sigma, 0.8), strict=True):
            for factor in (0.999, 1.001):
                if np.isfinite(end):
                    force = np.zeros((mat.layout.rows, mat.layout.columns))
                    force[1, 1] = end * factor
                    lone.append((mat, batch, batch.add(ohms(force, law), 1, result.pulldown_ohm), reading, factor))
        if np.isfinite(result.foot_n):
            for factor in (0.999, 1.001):
                force = np.zeros((mat.layout.rows, mat.layout.columns))
                force[:, : mat.layout.columns_per_panel] = foot(mat.layout, result.foot_n * factor, 1.0)
                loaded = np.flatnonzero(force.sum(1))
                numbers = [batch.add(ohms(force, law), int(k), result.pulldown_ohm) for k in loaded]
                feet.append((mat, batch, numbers, factor))
    volts = {id(batch): batch.run(tmp_path) for batch in batches.values()}
    assert len(lone) >= 3 * FILMS
    assert len(feet) >= FILMS
    for mat, batch, n, reading, factor in lone:
        got = batch.column_volts(volts[id(batch)], n)[1] / mat.electrical.supply_v
        assert (got > reading) == (factor > 1)
    for mat, batch, numbers, factor in feet:
        sums = sum(batch.column_volts(volts[id(batch)], n) for n in numbers) / mat.electrical.supply_v
        assert (sums.max() > 0.8) == (factor > 1)
