"""Flash images with the firmware on them, made once for each state of the sources and kept."""

import hashlib
import json
import os
from pathlib import Path

from emulated import BOOTROM, IMAGE

from groundtone.build.compiled import compiled

FIRMWARE = Path(__file__).parents[2] / "firmware"
KEPT = Path(__file__).parent / "kept"
MPY = 6 | 3 << 8 | 4 << 10  # of MicroPython 1.28 on the Pico


def files(as_sources=False):
    """What lies on the board, by name."""
    listed = json.loads((FIRMWARE / "package.json").read_text())["urls"]
    sources = {name: (FIRMWARE / source).read_bytes() for name, source in listed}
    return sources if as_sources else compiled(sources, MPY)


def flash(board, as_sources=False, layout="reference-16x4", extra=None):
    """A flash with the firmware, set to a layout (None: never set), made on the board itself where it is not kept."""
    put = files(as_sources) | (extra or {})
    if layout:
        put["settings.json"] = json.dumps({"layout": layout}).encode()
    digest = hashlib.sha256()
    for name, data in sorted(put.items()):
        digest.update(name.encode() + b"\0" + data)
    for given in (IMAGE, BOOTROM):
        digest.update(Path(os.environ[given]).read_bytes())
    file = KEPT / f"{digest.hexdigest()[:24]}.bin"
    if not file.exists():
        KEPT.mkdir(exist_ok=True)
        board.prompt()
        board.python("import os")
        for folder in sorted({str(Path(name).parent) for name in put if "/" in name}):
            board.python(f"os.mkdir({folder!r})")
        for name, data in put.items():
            board.write(name, data)
        beside = file.with_suffix(f".{os.getpid()}")
        board.do("save", file=str(beside))
        beside.rename(file)
    return file
