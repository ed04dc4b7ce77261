"""The settings file: either the old one or the new one, and never a mat that will not start because of it."""

import json

import pytest

SHOW = """
from mat import settings
s = settings.Settings()
print(s.notice)
print([s[k] for k in ("name", "layout", "oversample", "settle_us", "window", "radio")])
"""
BOARD = {"machine": "class Pin:\n    pass\n"}
DEFAULTS = "['groundtone', 'starter-10x3', 2, 5, 16, 'on']"


@pytest.mark.parametrize(
    ("text", "notice", "values"),
    [
        (None, "", DEFAULTS),
        ("", "The settings file is damaged: defaults are in force.", DEFAULTS),
        ('{"name": "a', "The settings file is damaged: defaults are in force.", DEFAULTS),
        ("[1, 2]", "The settings file is damaged: defaults are in force.", DEFAULTS),
        ('{"name": "hall 3", "window": 4, "later": 1}', "", "['hall 3', 'starter-10x3', 2, 5, 4, 'on']"),
        (
            '{"name": "hall 3", "window": 4000, "oversample": "x"}',
            "Not usable in the settings file: ",
            "['hall 3', 'starter-10x3', 2, 5, 16, 'on']",
        ),
    ],
)
def test_reading(mpy, tmp_path, text, notice, values):
    if text is not None:
        (tmp_path / "settings.json").write_text(text)
    lines = mpy(SHOW, BOARD).splitlines()
    assert lines[1] == values
    if notice.endswith(": "):
        assert lines[0].startswith(notice)
        assert "window" in lines[0]
        assert "oversample" in lines[0]
    else:
        assert lines[0] == notice


def test_power_lost_between_write_and_rename_leaves_the_old_file(mpy, tmp_path):
    old = json.dumps({"name": "old", "window": 9})
    (tmp_path / "settings.json").write_text(old)
    lost = """
import sys
from mat import settings
class Os:
    def rename(self, a, b):
        sys.exit(7)
s = settings.Settings()
settings.os = Os()
s.put("name", "new")
"""
    mpy(lost, BOARD, status=7)
    assert (tmp_path / "settings.json").read_text() == old
    assert json.loads((tmp_path / "settings.new").read_text())["name"] == "new"
    assert mpy(SHOW, BOARD).splitlines() == ["", "['old', 'starter-10x3', 2, 5, 9, 'on']"]
    put = "from mat import settings\nprint(settings.Settings().put('name', 'newer'))"
    assert mpy(put, BOARD).strip() == "newer"  # what was left over is in nobody's way
    assert mpy(SHOW, BOARD).splitlines() == ["", "['newer', 'starter-10x3', 2, 5, 9, 'on']"]


def test_a_rename_that_fails_leaves_value_and_file(mpy, tmp_path):
    code = """
from mat import settings
class Os:
    def rename(self, a, b):
        raise OSError(28)
s = settings.Settings()
settings.os = Os()
try:
    s.put("window", "3")
except settings.NotStoredError as error:
    print(s["window"], error)
"""
    assert mpy(code, BOARD).strip() == "16 the settings could not be written (28)"
    assert not (tmp_path / "settings.json").exists()


def test_a_damaged_file_is_told_after_the_first_hello(mat, tmp_path):
    (tmp_path / "settings.json").write_text("{")
    _, host = mat(settings=tmp_path)
    host.device_us()  # a ping is no hello
    assert host.events == []
    assert host.ask(1)[0] == 0
    assert host.event() == (4, "The settings file is damaged: defaults are in force.")
    host.ask(1)
    host.device_us()
    assert host.events == []
