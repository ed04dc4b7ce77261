"""What the frames must hold, worked out in numpy: the network with each row high in turn, and the references."""

import numpy as np

SUPPLY, REFERENCE = 3.3, 3.27
HIGH, LOW, SERIES, REF_OHM, REF_HIGH, REF_LOW, PULLDOWN = 48, 31, 220, 1000, 47, 29, 1000


def volts(cells, row, ref=None):
    """Row lines and columns while one row is high; ref is what REF drives: None, "low" or "high"."""
    cells = np.asarray(cells)
    rows, columns = cells.shape
    g = np.zeros((rows + columns, rows + columns))
    i = np.zeros(rows + columns)
    g[:rows, rows:] = -cells
    g[rows:, :rows] = -cells.T
    drivers = np.full(rows, 1 / (SERIES + LOW))
    drivers[row] = 1 / (SERIES + HIGH)
    i[row] = SUPPLY * drivers[row]
    np.fill_diagonal(g, np.concatenate([cells.sum(1) + drivers, cells.sum(0) + 1 / PULLDOWN]))
    if ref:
        conductance = 1 / (REF_OHM + (REF_HIGH if ref == "high" else REF_LOW))
        g[0, 0] += conductance
        i[0] += conductance * SUPPLY * (ref == "high")
    v = np.linalg.solve(g, i)
    return v[:rows], v[rows:]


def codes(v, bits=14):
    """Readings of volts, as a frame has them when every conversion is the same."""
    return np.clip(np.floor(np.asarray(v) / REFERENCE * 4096), 0, 4095).astype(int) << (bits - 12)


def frame(cells, bits=14):
    """(cells, references of even scans, of odd scans)."""
    every = np.concatenate([volts(cells, r)[1] for r in range(len(cells))])
    even = (0.0, volts(cells, 0, "low")[0][0])
    odd = (SUPPLY / 2, volts(cells, 1, "high")[0][0])
    return codes(every, bits), codes(even, bits), codes(odd, bits)


def distinct():
    """Every cell conducts, each differently: 0.7 to 30 kOhm in an order without order."""
    ohm = np.geomspace(700, 30000, 128)
    np.random.default_rng(14).shuffle(ohm)
    return (1 / ohm.reshape(16, 8)).tolist()
