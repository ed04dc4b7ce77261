"""A board is data: its record in firmware/mat/board.py holds all that the program asks of it."""

import ast
import json

import pytest
from at_the_line import HERE

FIRMWARE = HERE.parents[1] / "firmware"
NAMES = ("RP2040", "RP2350", "ESP32", "Pico")
KINDS = [
    ("Raspberry Pi Pico W with RP2040", "Raspberry Pi Pico W", "RP2040"),
    ("Raspberry Pi Pico with RP2040", "Raspberry Pi Pico", "RP2040"),
    ("Raspberry Pi Pico 2 W with RP2350", "Raspberry Pi Pico 2 W", "RP2350"),
    ("Raspberry Pi Pico2 with RP2350-RISCV", "Raspberry Pi Pico 2", "RP2350"),
    ("Generic ESP32S3 module with ESP32S3", "ESP32-S3", "ESP32S3"),
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
    ["Generic board with RP2350", "Plank with RP2040", "Generic ESP32 module with ESP32", "", "PYB with STM32"],
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
    assert "touched. Use a Raspberry Pi Pico" in said
    assert len(said.splitlines()) == 1


def test_an_invented_board_is_one_record(mpy):
    code = """
import json
from mat import board
class Here:
    class implementation:
        _machine = "Plank with XY1"
board.sys = Here
board.BOARDS = (("XY1", "Plank", "pico", "XY1"),) + board.BOARDS
board.CHIPS["XY1"] = {"sticks_high": True, "watchdog": None, "brown_out": None}
class Pin:
    IN, OUT, PULL_UP, PULL_DOWN = range(4)
    looks = []
    def __init__(self, *_):
        pass
    def init(self, mode, pull=None, value=0):
        Pin.looks.append(pull)
    def value(self):
        return 1
from mat import rows
rows.Pin = Pin
proof = rows.Rows(board.here().rows[:2], board.here().ref)
proof._look_for_joined = lambda: None
print(json.dumps([board.here().name, proof.prove(), Pin.PULL_DOWN in Pin.looks]))
"""
    assert json.loads(mpy(code, {"machine": MACHINE})) == ["Plank", True, False]


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
