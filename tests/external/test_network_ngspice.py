"""The twin's network against ngspice, an independent circuit simulator.

Source: ngspice.sourceforge.io, Debian package ngspice. The circuit is written resistor by resistor, each value with 17
digits; each selected row is one operating point. A linear circuit needs no iteration, so the tolerances (reltol,
abstol, vntol at their least) only keep ngspice from stopping early, and gmin touches no linear part. numdgt 15
prints nearly all that a double holds, so that printing does not limit the comparison.
"""

import re
import shutil
import subprocess

import numpy as np
import pytest

from groundtone.twin.network import column_voltages

SUPPLY = 3.3


def simulate(g, rs, r_high, r_low, side, folder):
    """Column voltages for every selected row, by ngspice, as fractions of the supply."""
    rows, columns = g.shape
    lines = ["groundtone network", ".options reltol=1e-12 abstol=1e-18 vntol=1e-15 gmin=1e-18"]
    for k in range(rows):
        lines.append(f"V{k} p{k} 0 0")
        lines.append(f"Rd{k} p{k} u{k} {r_low[k]:.17g}")
        lines += [f"Rg{k}_{c} u{k} c{c} {1.0 / g[k, c]:.17g}" for c in range(columns)]
    lines += [f"Rs{c} c{c} 0 {rs[c]:.17g}" for c in range(columns)]
    if side is not None:
        lines += [f"Rx{c} c{c} c{c + 1} {1.0 / s:.17g}" for c, s in enumerate(side) if s > 0.0]
    lines += [".control", "set numdgt=15"]
    for k in range(rows):
        lines += [f"alter V{k} dc = {SUPPLY}", f"alter Rd{k} = {r_high[k]:.17g}", "op"]
        lines += [f"print v(c{c})" for c in range(columns)]
        lines += [f"alter V{k} dc = 0", f"alter Rd{k} = {r_low[k]:.17g}"]
    lines += ["quit", ".endc", ".end"]
    netlist = folder / "network.cir"
    netlist.write_text("\n".join(lines) + "\n")
    run = subprocess.run(["ngspice", "-b", str(netlist)], capture_output=True, text=True, timeout=120, check=False)
    found = re.findall(r"^v\(c(\d+)\) = (\S+)", run.stdout, flags=re.MULTILINE)
    assert len(found) == rows * columns, run.stdout[-500:] + run.stderr[-500:]
    return np.array([float(value) for _, value in found]).reshape(rows, columns) / SUPPLY


@pytest.mark.parametrize(("seed", "with_side"), [(1, False), (2, False), (3, True), (4, True)])
def test_column_voltages_agree_with_ngspice(seed, with_side, tmp_path):
    assert shutil.which("ngspice"), "install ngspice (Debian: apt install ngspice)"
    rng = np.random.default_rng(seed)
    g = 10.0 ** rng.uniform(-6.0, np.log10(0.5e-3), (16, 8))
    rs = rng.uniform(950.0, 1050.0, 8)
    r_high, r_low = rng.uniform(120.0, 190.0, 16), rng.uniform(100.0, 150.0, 16)
    side = None
    if with_side:
        side = 1.0 / rng.uniform(5e3, 40e3, 7)
        side[3] = 0.0
    expected = simulate(g, rs, r_high, r_low, side, tmp_path)
    got = column_voltages(g[None], rs, r_high, r_low, side)[0]
    np.testing.assert_allclose(got, expected, rtol=1e-9, atol=0.0)
