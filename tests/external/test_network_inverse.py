"""The inverse of the network from voltages that ngspice computed.

Source: ngspice.sourceforge.io, Debian package ngspice, an independent circuit simulator. The circuit is written
resistor by resistor; each selected row is one operating point. Nothing of this project takes part in the forward
direction.
"""

import re
import shutil
import subprocess

import numpy as np
import pytest

from groundtone.mat.network import Drivers, conductances, readings

SUPPLY = 3.3


def by_ngspice(g, pins, folder):
    """Column voltages for every selected row, as fractions of the supply."""
    rows, columns = g.shape
    lines = ["mat", ".options reltol=1e-12 abstol=1e-18 vntol=1e-15 gmin=1e-18"]
    for k in range(rows):
        lines += [f"V{k} p{k} 0 0", f"Rd{k} p{k} u{k} {pins.low_ohm[k]:.17g}"]
        lines += [f"Rg{k}_{c} u{k} c{c} {1 / g[k, c]:.17g}" for c in range(columns)]
    lines += [f"Rs{c} c{c} 0 {pins.pulldown_ohm[c]:.17g}" for c in range(columns)]
    lines += [".control", "set numdgt=15"]
    for k in range(rows):
        lines += [f"alter V{k} dc = {SUPPLY}", f"alter Rd{k} = {pins.high_ohm[k]:.17g}", "op"]
        lines += [f"print v(c{c})" for c in range(columns)]
        lines += [f"alter V{k} dc = 0", f"alter Rd{k} = {pins.low_ohm[k]:.17g}"]
    (folder / "mat.cir").write_text("\n".join([*lines, "quit", ".endc", ".end", ""]))
    command = ["ngspice", "-b", str(folder / "mat.cir")]
    run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    found = re.findall(r"^v\(c(\d+)\) = (\S+)", run.stdout, flags=re.MULTILINE)
    assert len(found) == rows * columns, run.stdout[-500:] + run.stderr[-500:]
    return np.array([float(value) for _, value in found]).reshape(rows, columns) / SUPPLY


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_conductances_come_back_from_voltages_of_ngspice(seed, tmp_path):
    assert shutil.which("ngspice"), "install ngspice (Debian: apt install ngspice)"
    rng = np.random.default_rng(seed)
    spread = {11: (1e-6, 0.5e-3), 12: (1e-4, 0.5e-3), 13: (1e-7, 1e-4)}[seed]
    g = np.exp(rng.uniform(*np.log(spread), (16, 8)))
    pins = Drivers(rng.uniform(120, 190, 16), rng.uniform(105, 150, 16), rng.uniform(950, 1050, 8))
    v = by_ngspice(g, pins, tmp_path)
    np.testing.assert_allclose(readings(g[None], pins)[0], v, rtol=1e-9)
    np.testing.assert_allclose(conductances(v[None], pins)[0][0], g, rtol=1e-6)
