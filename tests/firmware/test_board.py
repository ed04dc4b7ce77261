"""A board is data: its record in firmware/mat/board.py holds all that the program asks of it."""

import ast
import json

import pytest
from at_the_line import HERE

FIRMWARE = HERE.parents[1] / "firmware"
NAMES = ("RP2040", "RP2350", "Pico")
KINDS = [
    ("Raspberry Pi Pico W with RP2040", "Raspberry Pi Pico W", "RP2040"),
    ("Raspberry Pi Pico with RP2040", "Raspberry Pi Pico", "RP2040"),
    ("Raspberry Pi Pico 2 W with RP2350", "Raspberry Pi Pico 2 W", "RP2350"),
    ("Raspberry Pi Pico2 with RP2350-RISCV", "Raspberry Pi Pico 2", "RP2350"),
]
MACHINE = "class Pin:\n    pass"


@pytest.mark.parametrize(("kind", "name", "chip"), KINDS)
def test_what_the_machine_says_of_itself_finds_its_record(mpy, kind, name, chip):
    code = f"""
import json
from mat import board
class Here:
    class implementation:
        _machine = {kind!r}
board.sys = Here
print(json.dumps([board.here().name, board.chip() is board.CHIPS[{chip!r}]]))
"""
    assert json.loads(mpy(code, {"machine": MACHINE})) == [name, True]


@pytest.mark.parametrize(
    "kind",
    ["Generic board with RP2350", "Plank with RP2040", "Generic ESP32S3 module with ESP32S3", "", "PYB with STM32"],
)
def test_a_board_that_is_not_known_is_refused_and_no_pin_of_it_touched(mpy, kind):
    code = f"""
import sys
from mat import board
class Here:
    class implementation:
        _machine = {kind!r}
board.sys = Here
sys.modules["mat.app"] = None  # the mat itself is not even built
import main
"""
    machine = "class Pin:\n    def __init__(self, *_):\n        print('a pin was touched')\n"
    said = mpy(code, {"machine": machine})
    assert said.startswith(f"The mat is not started: this board calls itself {kind!r}, for which the mat has no pins")
    assert "touched. Use a Raspberry Pi Pico (an ESP32 is not supported yet)" in said
    assert len(said.splitlines()) == 1


STICKY = """
import json, machine
from mat import board
class Here:
    class implementation:
        _machine = "Plank with XY1"
board.sys = Here
board.BOARDS = (("XY1", "Plank", "pico", "XY1", "quiet pin"),) + board.BOARDS
board.CHIPS["XY1"] = {"pads": (0x4001, 0xC000), "watchdog": (0, 0), "brown_out": None}
machine.mem32 = {0x4001C004 + 4 * gpio: 0x56 for gpio in range(30)}
class Pin:
    # An input that has been high holds itself up against its pull-down (RP2350-E9), unless it starts at 0 V.
    IN, OUT, PULL_UP, PULL_DOWN = range(4)
    tied = ()
    quiet = []
    def __init__(self, id, mode=None, pull=None, value=None):
        self.id, self.up = id, True
        if isinstance(id, str):
            Pin.quiet.append((id, mode, value))
    def init(self, mode, pull=None, value=0):
        self.low = mode == Pin.OUT and not value
        if self.low:
            self.up = False
        elif pull == Pin.PULL_UP:
            self.up = True
    def value(self):
        return int(not self.low and (self.up or self.id in Pin.tied))
from mat import rows
rows.Pin = board.Pin = Pin
board.quiet()
def proven(tied):
    Pin.tied = tied
    proof = rows.Rows(board.here().rows, board.here().ref)
    proof._look_for_joined = lambda: None
    return [proof.prove(), proof.findings]
"""


def test_an_invented_board_is_one_record(mpy):
    code = STICKY + "print(json.dumps([board.here().name, proven(()), Pin.quiet, list(machine.mem32.values())]))"
    name, found, quiet, pads = json.loads(mpy(code, {"machine": MACHINE}))
    assert (name, found, quiet) == ("Plank", [True, []], [["quiet pin", 1, 1]])
    # GPIO 0 to 15 and REF, 22: DRIVE is 3 (12 mA), the rest of the word as after a reset.
    assert sorted(pads) == [0x56] * 13 + [0x76] * 17


def test_a_row_at_the_supply_is_found_where_inputs_hold_themselves_up_too(mpy):
    code = STICKY + "print(json.dumps([proven(()), proven((3, 9))]))"
    good, tied = json.loads(mpy(code, {"machine": MACHINE}))
    assert good == [True, []]
    assert tied == [False, [[10, 3, 0], [10, 9, 0]]]


@pytest.mark.parametrize("path", sorted(FIRMWARE.rglob("*.py")), ids=lambda path: path.name)
def test_no_other_file_asks_which_board_or_chip_this_is(path):
    tree = ast.parse(path.read_text("utf-8"))
    told = [node for node in ast.walk(tree) if isinstance(node, ast.Expr)]
    prose = {id(node.value) for node in told}
    asked = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in prose
        if any(name in node.value for name in NAMES)
    ]
    assert path.name == "board.py" or not asked
