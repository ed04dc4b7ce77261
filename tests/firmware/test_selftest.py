"""The self-test on the electrical twin: every fault that an empty mat can show is named, and a good mat has none."""

import pytest
from at_the_line import Host

from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario
from groundtone.wire.codec import findings_from


def self_test(**mat):
    with MatProcess(Scenario(MatSpec.reference(**mat), Empty(5.0)), fast=True) as process:
        host = Host(process.port)
        status, payload = host.ask(6)
        assert status == 0, payload
        host.serial.close()
    findings = findings_from(payload)
    return [f for f in findings if f.code < 16], {(f.code, f.a): f.value for f in findings if f.code >= 16}


@pytest.mark.parametrize("mat", [{"seed": 5, "adc_noise_lsb": 3.0}, {"rs_ohm": 4700.0}])
def test_a_good_empty_mat_has_no_fault_and_true_figures(mat):
    faults, figures = self_test(**mat)
    assert faults == []
    rs = mat.get("rs_ohm", 1000.0)
    assert [figures[20, c] for c in range(8)] == pytest.approx([rs] * 8, rel=0.06)
    assert figures[22, 0] == pytest.approx(275, abs=10)
    assert figures[22, 1] == pytest.approx(250, abs=10)
    assert figures[21, 0] / 16 == pytest.approx(mat.get("adc_noise_lsb", 2.5), abs=0.5)
    assert 640 <= figures[16, 0] < 2000  # 130 settles of 5 us at the least


def test_film_that_was_not_cut_is_found_and_measured():
    faults, _ = self_test(side_ohm=20e3)
    assert [(f.code, f.a) for f in faults] == [(7, 0), (7, 1)]
    assert [f.value for f in faults] == pytest.approx([200, 200], rel=0.15)


@pytest.mark.parametrize(
    ("wiring", "expected"),
    [
        ("no-pulldown:3", {(8, 3)}),
        ("pulldown:5,10", {(15, 5)}),
        ("short-columns:1,2", {(15, 1), (15, 2)}),
        ("reference:10", {(6, 0), (6, 1)}),
        ("divider:10", {(4, 0), (6, 0), (6, 1)}),
        ("no-tap", {(6, 0)}),
    ],
)
def test_a_wiring_fault_is_named(wiring, expected):
    faults, _ = self_test(wiring=(wiring,))
    # A column that only leakage holds floats, and may read high as well.
    assert {(f.code, f.a) for f in faults} - {(5, 3)} == expected


def test_swapped_address_lines_are_named():
    faults, _ = self_test(wiring=("address:1,3",))
    assert [(f.code, f.a, f.b) for f in faults if f.code != 5] == [(12, 1, 3)]


def test_a_noisy_converter_is_told_and_nothing_finer_is_guessed():
    faults, figures = self_test(adc_noise_lsb=12.0)
    assert [f.code for f in faults] == [14]
    assert faults[0].value == figures[21, 0] == pytest.approx(12 * 16, rel=0.2)


SCAN = """
import machine
from mat import selftest, wiringtest
class Pin:
    OUT = 1
    IN = 0
    def value(self, x=None):
        pass
    def init(self, mode, pull=None, value=None):
        pass
class Rows:
    ref = Pin()
    pins = [Pin() for _ in range(16)]
class Slow:
    # Inputs that come to their level with a time constant of so many microseconds; read as soon as a frame does.
    def __init__(self, tau):
        self.tau = tau
    sharp = True
    def settle(self, us, row_us):
        self.us = row_us
    def moved(self, source):
        if source > 1:  # a column whose rows have all gone up: the film's step, which goes
            return int(4 * 4096 * 0.94 * 2.718281828 ** (-self.us / self.tau))
        return int(4 * (3500 if source else 2048) * (1 - 2.718281828 ** (-self.us / self.tau)))
class App:
    bits, shape, row_us = 14, (16, 8), 0
    def __init__(self, tau, set_us=0):
        self.scan, self.settings = Slow(tau), {"settle_us": 5, "row_settle_us": set_us}
class Pulled:
    # What the ADC's pin reads while it is weakly pulled up, by input of the multiplexer.
    def __init__(self, codes):
        self.codes = codes
        self.up = False
    def pull(self, up):
        self.up = up
    def total(self, node, settle_us, count):
        assert self.up
        return count * self.codes[node]
class Stuck:
    def __init__(self, line, level):
        self.line, self.level = line, level
    def total(self, node, settle_us, count):
        node = node & ~(1 << self.line) | self.level << self.line
        return {9: 2048, 10: 3500}.get(node, 0) * count
class Swapped:
    def __init__(self, i, k):
        self.i, self.k = i, k
    def total(self, node, settle_us, count):
        different = (node >> self.i ^ node >> self.k) & 1
        return {9: 2048, 10: 3500}.get(node ^ (different << self.i | different << self.k), 0) * count
print([selftest._settle(Slow(tau), 5, 14) for tau in (0.5, 0.8, 4, 20, 900)])
for tau, set_us in ((0.45, 0), (1.1, 0), (1.7, 0), (1.7, 30), (1.7, 9), (200, 0)):
    app = App(tau, set_us)
    print((selftest._columns_settle(app), app.scan.us))
mats = [[80] * 8 + [10, 320, 60], [4095] * 8 + [10, 320, 60], [4090] * 11, [80] * 8 + [4095, 320, 60]]
print([wiringtest.missing(Pulled(codes), 8) for codes in mats])
print([wiringtest.address(Rows, Stuck(line, level)) for line in range(4) for level in (0, 1)])
print([wiringtest.address(Rows, Swapped(i, k)) for k in range(4) for i in range(k)])
"""
MACHINE = "PWRON_RESET = 1\nclass Pin:\n    IN = 0\nclass ADC:\n    pass\n"


def test_a_settle_time_that_is_too_short_and_stuck_address_lines(mpy):
    settle, *slow, missing, stuck, swapped = (eval(line) for line in mpy(SCAN, {"machine": MACHINE}).splitlines())
    # Film of 22, 60 and 100 pF a cell in 16 rows of 1 kOhm; 100 pF with more and with less set; no film at all.
    assert slow[0] == ([(25, 0, 0, 5)], 5)
    for (found, in_force), tau in zip(slow[1:3], (1.1, 1.7), strict=True):
        (figure,) = found
        assert figure[0] == 25
        assert in_force == figure[3]
        assert 8.2 * tau <= figure[3] <= 12 * tau  # half a step of 4096 is left after 9 time constants
    assert slow[3] == ([(25, 0, 0, slow[2][1])], 30)
    assert slow[4] == ([(25, 0, 0, slow[2][1]), (11, 2, 0, slow[2][1])], 9)
    assert [f[0] for f in slow[5][0]] == [25, 11]
    assert slow[5][0][1][3] > 200 >= slow[5][1]
    assert settle[:2] == [[], []]
    # A good mat; open columns; no multiplexer at all; an open 0 V input.
    assert missing == [[], [], [(0, 0, 0, 4090)], []]
    (code, source, _, enough), *_ = settle[2]
    assert (code, source) == (11, 0)
    assert 20 <= enough <= 40  # 2048 exp(-t / 4) falls to 8 steps after 22 us
    assert 100 < settle[3][0][3] <= 200
    assert settle[4][0][3] == 201
    # A line that is stuck where both known inputs have it cannot be told; the rest can. S2 high and S3 low hide both.
    assert stuck[0] == [(13, 0, 0, 0)]
    assert stuck[1] == [(13, 0, 1, 0)]
    assert stuck[2] == [(13, 1, 0, 0)]
    assert stuck[3] == [(13, 1, 1, 0)]
    assert stuck[4] == []  # S2 is low in all three known inputs: columns 4 to 7 would read like 0 to 3
    assert stuck[7] == []
    assert swapped == [[(12, i, k, 0)] for k in range(4) for i in range(k)]


DRIVERS = """
from mat import selftest
class Scan:
    # Taps of pins of so many ohms, each behind the row's resistor, above the reference resistor and the other pin.
    def __init__(self, series, pin):
        self.share = (series + pin) / (series + 1000 + 2 * pin)
    def references(self, buf, at, odd):
        tap = self.share if odd else 1 - self.share
        buf[at], buf[at + 1] = 8192 if odd else 0, int(16384 * tap)
for series, pin in ((100, 20), (220, 110), (270, 20), (270, 110), (270, 190), (100, 0)):
    print([found[:2] for found in selftest._references(Scan(series, pin), 14) if found[0] == 6])
"""


def test_every_pin_behind_every_row_resistor_is_a_driver(mpy):
    assert mpy(DRIVERS, {"machine": MACHINE}).splitlines() == ["[]"] * 4 + ["[(6, 0), (6, 1)]"] * 2


WAITS = """
from mat import app, kinds, settling
class Scan:
    sharp, size, line = True, 130, None
    def __init__(self, *_): self.us = 0
    def settle(self, us, row_us): self.us = row_us
    def moved(self, source): return int(4 * (self.rests + 2000 * 2.718281828 ** (-self.us / 0.45)))
class Rows:
    proven = True
    def __init__(self, *_): pass
    def release(self): pass
    def prove(self): return True
class Link:
    class usb:
        line = None
    def size_for(self, *_): pass
class Mat(app.App):
    def __init__(self):
        self.settings = {"layout": "reference-16x4", "oversample": 4, "settle_us": 5, "row_settle_us": 0, "window": 8}
        self.board, self.rows, self.strike, self.clock, self.link = Board, Rows(), None, None, Link
        self.running, self.shape, self.row_us, self.row_wait = False, (16, 8), 0, 0
        self._prepare()
    def prove_rows(self): pass
class Board:
    rows, ref = tuple(range(16)), 20
kinds.scanner = lambda: Scan
app.rows.Rows = Rows
mat = Mat()
def show(): print(mat.row_us, mat.scan.us)
show()
for rests in (1000, 0):  # somebody stands there: the columns stay up; the empty mat
    Scan.rests = rests
    kinds.measure(mat)
    show()
    mat.settings_changed()
    show()
mat.settings["layout"] = "small-8x2"
mat.settings_changed()
show()
"""


def test_what_is_waited_on_a_loaded_mat_outlasts_a_changed_setting(mpy):
    machine = MACHINE + "class PWM:\n    pass\n"
    assert mpy(WAITS, {"machine": machine}).splitlines() == ["0 0", "0 20", "0 20", "5 5", "5 5", "0 0"]
