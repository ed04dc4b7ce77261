"""Which pin does what, read from the firmware's own board file, so that it is written down once."""

from __future__ import annotations

import ast
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from groundtone.errors import BuildError

# The Pico's own pin numbers, by GPIO (Raspberry Pi Pico data sheet, pinout).
_PICO_PINS = {
    0: 1, 1: 2, 2: 4, 3: 5, 4: 6, 5: 7, 6: 9, 7: 10, 8: 11, 9: 12, 10: 14, 11: 15, 12: 16, 13: 17, 14: 19, 15: 20,
    16: 21, 17: 22, 18: 24, 19: 25, 20: 26, 21: 27, 22: 29, 26: 31, 27: 32, 28: 34,
}  # fmt: skip
_PICO_POWER = {"3V3": "3V3(OUT), pin 36", "GND": "GND, pin 38", "AGND": "AGND, pin 33", "5V": "VBUS, pin 40"}
_OTHER_POWER = {"3V3": "3V3", "GND": "GND", "AGND": "GND", "5V": "5V"}


@dataclass(frozen=True)
class Pins:
    """One board's pins, GPIO numbers.

    Attributes
    ----------
    board : str
    rows, address : tuple of int
        Row 0 first; S0 of the multiplexer first.
    ref, adc, strike, edge, buzzer, button : int
    columns : int
        Multiplexer inputs that are free for columns, both panels.
    zero, supply, tap : int
        Multiplexer inputs of the references.
    """

    board: str
    rows: tuple[int, ...]
    address: tuple[int, ...]
    ref: int
    adc: int
    strike: int
    edge: int
    buzzer: int
    button: int
    columns: int
    zero: int
    supply: int
    tap: int

    def where(self, gpio: int) -> str:
        """A pin as the builder finds it: its name, and on a Pico its number on the board."""
        if "Pico" in self.board:
            return f"GP{gpio}, pin {_PICO_PINS[gpio]}"
        return f"GPIO{gpio}"

    @property
    def power(self) -> Mapping[str, str]:
        """Where 3V3, GND, AGND and 5V are."""
        return _PICO_POWER if "Pico" in self.board else _OTHER_POWER


def firmware_folder() -> Path:
    """Where the firmware's files lie."""
    inside = Path(str(files("groundtone"))) / "data" / "firmware"
    return inside if inside.is_dir() else Path(__file__).parents[3] / "firmware"


def known_boards() -> dict[str, Pins]:
    """Every board of firmware/mat/board.py by its name; nothing of that file is run.

    Raises
    ------
    BuildError
        Where the file is missing or is not what it was.
    """
    path = firmware_folder() / "mat" / "board.py"
    try:
        values = _literals(ast.parse(path.read_text("utf-8")))
        tables = values["PINS"]
        return {name: _pins(name, tables[which], values) for _, name, which in values["BOARDS"]}
    except (OSError, SyntaxError, KeyError, TypeError, ValueError) as error:
        raise BuildError(f"the firmware's board file {path} names no pins: install the program again") from error


def pins_of(board: str) -> Pins:
    """The pins of one board; BuildError names the ones there are."""
    known = known_boards()
    if board not in known:
        raise BuildError(f"the board {board!r} is not known: name one of {', '.join(known)}")
    return known[board]


def _literals(tree: ast.Module) -> dict[str, Any]:
    """Names that are set to plain values at the top of a file."""
    out: dict[str, Any] = {}
    for statement in tree.body:
        if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
            try:
                out[statement.targets[0].id] = ast.literal_eval(statement.value)
            except ValueError:
                continue
    return out


def _pins(name: str, table: Mapping[str, Any], values: Mapping[str, Any]) -> Pins:
    single = {key: int(table[key]) for key in ("ref", "adc", "strike", "edge", "buzzer", "button")}
    return Pins(
        name,
        tuple(table["rows"]),
        tuple(table["address"]),
        **single,
        columns=values["MAX_COLUMNS"],
        zero=values["INPUT_ZERO"],
        supply=values["INPUT_SUPPLY"],
        tap=values["INPUT_TAP"],
    )
