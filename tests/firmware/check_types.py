"""Checks the firmware's types against the board's stubs: `python tests/firmware/check_types.py`.

mypy takes its standard library from a folder laid out like typeshed, and refuses one inside site-packages. The stubs'
wheels unpack there, so the files of their two packages are copied to a temporary folder first.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path

# Two habits of the stubs would forbid ordinary firmware: a viper pointer takes any buffer, not only a pointer; and
# a tick is kept in attributes that start as 0.
PATCHES = (
    (
        "stdlib/builtins.pyi",
        r"class (ptr(?:8|16|32))\(ptr\):\n(?:.*\n)*?    def __setitem__.*\n",
        r"\1: TypeAlias = Any\n",
    ),
    ("_mpy_shed/time_mp.pyi", r"class _TicksUs:\n(?:    .*\n)*", "_TicksUs: TypeAlias = int\n"),
)
ROOT = Path(__file__).parents[2]
PACKAGES = ("micropython-rp2-rpi-pico-w-stubs", "micropython-stdlib-stubs")


def copy_stubs(to: Path) -> None:
    """Copy every stub file of the two packages, folders kept."""
    for package in PACKAGES:
        for file in metadata.files(package) or ():
            if file.suffix == ".pyi" or file.name == "VERSIONS":
                target = to / file
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(str(file.locate()), target)
    for name, pattern, replacement in PATCHES:
        text, count = re.subn(pattern, replacement, (to / name).read_text())
        if not count:
            raise SystemExit(f"{name} no longer looks as expected: mend PATCHES")
        (to / name).write_text(text)


def main() -> int:
    """Run mypy over the firmware; its exit status."""
    with tempfile.TemporaryDirectory() as folder:
        copy_stubs(Path(folder))
        config = Path(folder) / "mypy.ini"
        text = (ROOT / "firmware" / "mypy.ini").read_text()
        config.write_text(text.replace("mypy_path = firmware", f"mypy_path = firmware:{folder}"))
        command = [sys.executable, "-m", "mypy", "--config-file", str(config), "--custom-typeshed-dir", folder,
                   "--no-site-packages", "--cache-dir", f"{folder}/cache"]  # fmt: skip
        return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
