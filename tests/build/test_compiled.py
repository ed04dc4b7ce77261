"""What goes onto which board: compiled files where its MicroPython takes them, else the sources, and never both."""

import pytest

from groundtone.build.compiled import compiled

SOURCES = {
    "main.py": b"import mat.a\n", "mat/a.py": b"def f(x):\n    return x + 1\n",
    "mat/b_rp2.py": b"import micropython\n@micropython.viper\ndef f(x: int) -> int:\n    return x + 1\n",
}  # fmt: skip
PICO, S3 = 6 | 3 << 8 | 4 << 10, 6 | 3 << 8 | 10 << 10


def test_a_pico_gets_compiled_files_for_its_instructions():
    files = compiled(SOURCES, PICO)
    assert sorted(files) == ["main.py", "mat/a.mpy", "mat/b_rp2.mpy"]
    assert files["main.py"] == SOURCES["main.py"]
    assert files["mat/a.mpy"][:3] == b"M\x06\x00"
    assert files["mat/b_rp2.mpy"][:3] == bytes((ord("M"), 6, 4 << 2 | 3))


def test_another_chip_gets_none_of_the_rp2s_files():
    assert sorted(compiled(SOURCES, S3)) == ["main.py", "mat/a.mpy"]


@pytest.mark.parametrize("mpy", [0, 6 | 3 << 8 | 2 << 10, 5 | 4 << 10, 6 | 2 << 8 | 4 << 10])
def test_who_takes_nothing_of_it_gets_the_sources(mpy):
    assert compiled(SOURCES, mpy) == SOURCES


def test_a_file_that_does_not_compile_leaves_the_sources():
    assert compiled(SOURCES | {"mat/c.py": b"def ("}, PICO) == SOURCES | {"mat/c.py": b"def ("}
