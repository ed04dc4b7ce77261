"""From scans to the feet on the board: as the host's floating point on the twin's frames; the empty mat; the heap."""

import json

import beside_host
import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import OnMat, packed

SYNTHETIC = """
import json
from array import array
from mat.alone import forces, onmat, pressure
board = onmat.read(bytes(range(8)), "reference-16x4", "sent.bin").pressure
values = array("H", bytes(2 * 130))
def scan(seq, cells, zero=8, supply=8200, up=14400, down=1990):
    for i in range(128):
        values[i] = zero
    for place, value in cells.items():
        values[place] = value
    values[128], values[129] = (supply, down) if seq & 1 else (zero, up)
    return board.frame(values, seq & 1)
def feet():
    return [board.forces.feet[i] for i in (0, 4, 5, 8, 12, 13)], board.state[pressure.SHARE]
"""
NOTHING = 0x1FFFFFFF


@pytest.fixture
def synthetic(mpy, tmp_path):
    def run(code, flags=0, places=((), (), ()), series=100.0):
        nodes = np.array([(4 + k) * 2**octave for octave in range(15) for k in range(4)] + [4 * 2**15])
        force = np.broadcast_to(np.minimum(nodes * 4, 65535), (16, 8, 61)).astype(np.uint16)  # 1/8 N a unit
        layout = layout_of("reference-16x4")
        whole = OnMat(
            bytes(range(8)).hex(), layout.id, flags, 0, 0.0, 0, series + 40, series + 40, series, 1000.0, 1000.0,
            (16384,) * 8, (), force, places,
        )  # fmt: skip
        (tmp_path / "sent.bin").write_bytes(packed(whole))
        return [json.loads(line) for line in mpy(SYNTHETIC + code).splitlines()]

    return run


@pytest.mark.parametrize(
    ("population", "seed", "hand"),
    [("ordinary", 11, "left"), ("ordinary", 14, "right"), ("wide", 300, "left"), ("wide", 15, "left")],
)
def test_it_is_the_hosts_floating_point(mpy, tmp_path, population, seed, hand):
    session = beside_host.played(population, seed, 1500)
    assert session.golfer.hand == hand
    film = beside_host.film_for(session)
    board = beside_host.by_board(mpy, tmp_path, session, film)
    off = beside_host.apart(session, beside_host.by_host(session, film), board)
    shoe = session.golfer.shoe_mm
    assert np.isfinite(off.share).sum() > 1000
    # Of wide mats what is left of the hum (docs/figures.md says 0.014 of ten).
    assert np.nanquantile(np.abs(off.share), 0.99) < (0.01 if population == "ordinary" else 0.014)
    assert np.nanquantile(np.abs(off.u_mm), 0.99) < 0.015 * shoe
    assert np.nanquantile(np.abs(off.v_mm), 0.99) < 1.0
    # The host models the converter's lower end, which takes the lower half of the noise off cells that carry little;
    # the board does not, and with noise of 2.5 steps their forces are 0.051 apart in one frame of a hundred, 0.018 in
    # five. What the two do alike is compared: on a mat without hum, above the zero's mean reading.
    if population == "ordinary":
        assert session.mat.hum_lsb == 0.0
        alike = beside_host.apart(session, beside_host.by_host(session, film, lower_end=False), board)
        assert np.nanquantile(np.abs(alike.force), 0.99) < 0.02
        assert np.nanquantile(np.abs(off.force), 0.95) < 0.02
        return
    # The wide mats hum by 3.6 and 4.7 steps of the converter, and either takes it off in its own way: the host by what
    # the lower end leaves of it, the board by what cells without a load show of it. 0.021 and 0.037 are measured.
    assert np.nanquantile(np.abs(off.force), 0.95) < 0.04


def test_before_all_references_and_with_a_broken_line_nothing_is_known(synthetic):
    first, second, broken, mended = synthetic("""
print(scan(0, {}))
print(scan(1, {}))
for seq in range(2, 400):
    known = scan(seq, {}, supply=9)
print(known)
for seq in range(400, 800):
    known = scan(seq, {})
print(known)
""")
    assert (first, second, broken, mended) == (0, 1, 0, 1)


def test_the_drivers_are_measured_on_the_empty_mat_alone(synthetic):
    # Taps of a pin that is high behind 150 ohm and of one that is low behind 130, by hand.
    low, high = 130.0, 150.0
    up, down = 1 - high / (high + 900 + low), low / (low + 900 + high)
    taps = f"up={8 + 16384 * up:.0f}, down={8 + 16384 * down:.0f}"
    stood, empty = synthetic(f"""
foot = {{row * 8 + column: 900 for row in range(4, 12) for column in (1, 2, 5, 6)}}
plan = board.forces.plan
for seq in range(300):
    scan(seq, foot, {taps})
print([plan[forces.LOW], plan[forces.UNEQUAL]])
for seq in range(300):
    scan(seq, {{}}, {taps})
print([plan[forces.LOW], plan[forces.UNEQUAL]])
""")
    assert stood == [round(16384 * 0.14), 16384]
    assert empty == pytest.approx([16384 * 0.130, 16384 - 16384 * 0.020], abs=12)


@pytest.mark.parametrize("told", [100, 220])
@pytest.mark.parametrize(("true", "low_pin", "high_pin"), [(100, 25, 40), (220, 25, 40), (220, 70, 95)])
def test_they_are_measured_behind_the_rows_resistors_of_earlier_mats_too(synthetic, told, true, low_pin, high_pin):
    low, high = true + low_pin, true + high_pin
    whole = high + 1000 + low_pin  # the other pin's own resistance stands behind the reference resistor
    up, down = 1 - high / whole, low / (low + 1000 + high_pin)
    ((has_low, unequal),) = synthetic(
        f"""
plan = board.forces.plan
for seq in range(300):
    scan(seq, {{}}, up={8 + 16384 * up:.0f}, down={8 + 16384 * down:.0f})
print([plan[forces.LOW], plan[forces.UNEQUAL]])
""",
        series=float(told),
    )
    assert [has_low, unequal] == pytest.approx([16.384 * low, 16384 + 16.384 * (low - high)], abs=24)


@pytest.mark.parametrize("both", [False, True])
def test_what_lies_there_is_taken_off_and_who_stands_there_is_not(synthetic, both):
    # At two hundred scans a second every second one is looked at: as many moments as at a hundred.
    before, lies, after, stands = synthetic(
        """
board.both = BOTH
TWICE = 2 if BOTH else 1
pressed = {9: 40, 77: 60}
foot = {row * 8 + column: 900 for row in range(4, 12) for column in (1, 2, 5, 6)}
for seq in range(10):
    scan(seq, pressed)
print(board.forces.feet[0] + board.forces.feet[8])
for seq in range(400 * TWICE):
    scan(seq, pressed)
print(board.forces.feet[0] + board.forces.feet[8])
for seq in range(10):
    scan(seq, foot)
standing = board.forces.feet[0]
print([standing, sum(board.forces.tare)])
for seq in range(1000):
    scan(seq, foot)
print([board.forces.feet[0] / standing, sum(board.forces.tare)])
""".replace("BOTH", str(both))
    )
    assert before > 300
    assert lies < 10
    assert after[0] > 5000
    assert stands[0] == pytest.approx(1, abs=0.01)
    assert stands[1] == after[1]


def test_a_scan_that_cannot_be_is_left_out_and_a_load_that_stays_so_is_told(synthetic):
    before, torn, after = synthetic("""
foot = {row * 8 + column: 400 for row in range(4, 12) for column in (1, 2, 5, 6)}
for seq in range(20):
    scan(seq, foot)
print(board.forces.feet[0])
print([scan(seq, {row * 8 + 1: 1000 for row in range(16)}) for seq in range(20, 27)])
print([[scan(seq, foot), board.forces.feet[0]] for seq in range(27, 33)])
""")
    assert torn == [0, 0, 0, 0, 1, 1, 1]
    assert [known for known, _ in after] == [1] * 6
    assert after[-1][1] == pytest.approx(before, rel=0.01)


@pytest.mark.parametrize(("flags", "lead"), [(0, 0), (1, 1)])
def test_force_centre_and_share_by_hand(synthetic, flags, lead):
    ((feet, share),) = synthetic(
        """
for seq in range(20):
    scan(seq, {4 * 8 + 1: 1200, 6 * 8 + 2: 1200, 10 * 8 + 5: 1200})
print(json.dumps(feet()))
""",
        flags,
    )
    left, right = feet[:3], feet[3:]
    assert left[0] / right[0] == pytest.approx(2, rel=0.1)
    assert left[1] / 256 == pytest.approx(5, abs=0.05)  # midway between rows 4 and 6
    assert left[2] / 256 == pytest.approx(1.5, abs=0.03)
    assert right[1:] == pytest.approx([10 * 256, 256], abs=2)
    assert share / 16384 == pytest.approx((left[0], right[0])[lead] / (left[0] + right[0]), abs=1e-3)


def test_a_foot_in_the_air_has_no_centre_and_an_empty_mat_no_share(synthetic):
    (one, _), (none, share) = synthetic("""
for seq in range(20):
    scan(seq, {4 * 8 + 1: 2000, 6 * 8 + 2: 2000})
print(json.dumps(feet()))
for seq in range(20):
    scan(seq, {})
print(json.dumps(feet()))
""")
    assert one[0] > 960
    assert one[4:] == [NOTHING, NOTHING]
    assert none[1:3] == [NOTHING, NOTHING]
    assert share == NOTHING


def test_exchanged_wires_are_where_they_lie(synthetic):
    places = ((*range(15, -1, -1),), (*range(16),), (4, 5, 6, 7, 0, 1, 2, 3))
    ((feet, _),) = synthetic(
        """
for seq in range(20):
    scan(seq, {4 * 8 + 5: 2000, 3 * 8 + 0: 2000})
print(json.dumps(feet()))
""",
        places=places,
    )
    # Row line 4 of column line 5 is the left panel's row 11, second column; column line 0 the right panel's first one.
    assert feet[1:3] == pytest.approx([11 * 256, 256], abs=2)
    assert feet[4:] == pytest.approx([3 * 256, 0], abs=2)


def test_four_thousand_scans_allocate_nothing(synthetic):
    for hums in (0, 1):
        ((grown, known),) = synthetic(SCANS.replace("WITH", str(hums)))
        assert (grown, known) == (0, 2000)


SCANS = """
import gc
cells = {row * 8 + column: 500 + 37 * row for row in range(3, 13) for column in (1, 2, 5, 6)}
scan(0, cells)
scan(1, cells)
board.state[pressure.HUMS] = WITH  # the mains' hum taken off or not; found to be none, it is left again
frame = board.frame
def run(n):
    known = 0
    while n:
        values[128] = 8200 if n & 1 else 8
        values[129] = 1990 if n & 1 else 14400
        known += frame(values, n & 1)
        n -= 1
    return known
run(10)
gc.collect()
gc.disable()
before = gc.mem_alloc()
run(2000)
stood = gc.mem_alloc() - before
for i in range(128):
    values[i] = 8
before = gc.mem_alloc()
known = run(2000)
print([stood + gc.mem_alloc() - before, known])
"""
