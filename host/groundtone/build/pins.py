"""Which pin does what, read from the firmware's own board file, so that it is written down once."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from groundtone.build.board_limits import facts_of, refuse_esp32
from groundtone.errors import BuildError


@dataclass(frozen=True)
class Pins:
    """One board's pins, GPIO numbers.

    Attributes
    ----------
    rows, address : tuple of int
        Row 0 first; S0 of the multiplexer first.
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
        """A pin as the builder finds it: its name, and its number on the board where it has one."""
        numbers = facts_of(self.board).pin_numbers
        return f"GP{gpio}, pin {numbers[gpio]}" if numbers else f"GPIO{gpio}"

    @property
    def power(self) -> Mapping[str, str]:
        """Where 3V3, GND, AGND and 5V are."""
        return facts_of(self.board).power


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
    with _board_file() as values:
        return {name: _pins(name, values["PINS"][which], values) for _, name, which, *_ in values["BOARDS"]}


def known_chips() -> dict[str, dict[str, Any]]:
    """What firmware/mat/board.py says of each chip, by the name that MicroPython gives it; raises as `known_boards`."""
    with _board_file() as values:
        return dict(values["CHIPS"])


def pins_of(board: str) -> Pins:
    """The pins of one board; BuildError names the ones there are."""
    known = known_boards()
    refuse_esp32(board)
    if board not in known:
        raise BuildError(f"the board {board!r} is not known: name one of {', '.join(known)}")
    return known[board]


@contextmanager
def _board_file() -> Iterator[dict[str, Any]]:
    path = firmware_folder() / "mat" / "board.py"
    try:
        yield _literals(ast.parse(path.read_text("utf-8")))
    except (OSError, SyntaxError, KeyError, TypeError, ValueError) as error:
        raise BuildError(f"the firmware's board file {path} names no pins: install the program again") from error


def _literals(tree: ast.Module) -> dict[str, Any]:
    """Names that are set to plain values at the top of a file."""
    out: dict[str, Any] = {}
    for statement in tree.body:
        target = statement.targets[0] if isinstance(statement, ast.Assign) else getattr(statement, "target", None)
        if isinstance(target, ast.Name) and isinstance(statement, ast.Assign | ast.AnnAssign) and statement.value:
            try:
                out[target.id] = ast.literal_eval(statement.value)
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
