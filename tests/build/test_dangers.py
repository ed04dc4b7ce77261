"""What must not be built so is refused wherever a description is read, with a value that mends it and is then taken."""

import re

import pytest

from groundtone.app.command import main
from groundtone.build.dangers import arc_mm, bevel_for, strip_for
from groundtone.build.layout_check import as_table, mat_toml
from groundtone.build.mat_file import mat_from, read_mat
from groundtone.errors import BuildError

# Section and entry, the dangerous choice, what is said, and the entry and value that mend it.
DANGERS = [
    ("base", "span_mm", 340.0, "never on feet", ("base", "span_mm", 73.0)),
    ("ground", "bevel_mm", 12.0, "asks for 1 : 2", ("ground", "bevel_mm", 26.0)),
    ("ground", "box_behind_mm", 100.0, "are stepped on or hit", ("ground", "box_behind_mm", 600.0)),
    ("ground", "strip_length_mm", 300.0, "where the club is 7.5 mm high", ("ground", "strip_length_mm", 600.0)),
    ("ground", "strip_depth_mm", 300.0, "its edge within 150 mm", ("ground", "strip_depth_mm", 360.0)),
    ("ground", "disc_mm", 210.0, "in the club's way", ("ground", "disc_mm", 46.5)),
    ("power", "feed", "lithium cell", "charged without control", ("power", "feed", "usb")),
    ("power", "fuse_a", 0.0, "lets a shorted lead burn", ("power", "fuse_a", 0.5)),
    ("power", "fuse_a", 0.1, "goes out by itself", ("power", "fuse_a", 0.5)),
    ("power", "fuse_a", 3.0, "lets a shorted lead burn", ("power", "fuse_a", 0.5)),
    ("stack", "pads_glued_to", "buttons", "rub film on copper", ("stack", "pads_glued_to", "cover")),
    ("stack", "buttons_glued_to", "foil", "rub film on copper", ("stack", "buttons_glued_to", "pads")),
    ("panel", "margin_outer_mm", 15.0, "no room for a firm rim", ("panel", "margin_outer_mm", 22.0)),
    ("panel", "notch_mm", 10.0, "does not leave by panel.notch_mm", ("panel", "notch_mm", 20.0)),
]


def changed(*entries):
    table = as_table(read_mat("starter"))
    for section, key, value in entries:
        table[section][key] = value
    return table


@pytest.mark.parametrize(("section", "key", "value", "words", "mend"), DANGERS)
def test_each_danger_is_refused_with_what_mends_it(section, key, value, words, mend):
    with pytest.raises(BuildError) as refused:
        mat_from(changed((section, key, value)), "my.toml")
    said = str(refused.value)
    assert words in said
    number = f"{mend[2]:g}" if isinstance(mend[2], float) else mend[2]
    assert re.search(rf"\b{re.escape(number)}\b", said), said
    assert "\n" not in said
    mat_from(changed((section, key, value), mend), "my.toml")


def test_a_plate_too_thin_is_refused_with_its_thickness():
    with pytest.raises(BuildError, match=r"or over a hollow take 5 mm \(stack\.base_mm\)"):
        mat_from(changed(("stack", "base_mm", 3.0)), "my.toml")
    mat_from(changed(("stack", "base_mm", 5.0)), "my.toml")


def test_several_dangers_are_told_at_once():
    with pytest.raises(BuildError) as refused:
        mat_from(changed(("power", "feed", "cell"), ("ground", "bevel_mm", 5.0)), "my.toml")
    assert "charged without control" in str(refused.value)
    assert "trips people" in str(refused.value)


@pytest.mark.parametrize("command", ["parts", "steps", "wiring", "templates", "pictures", "scan", "divider", "plate"])
def test_no_command_builds_from_such_a_description(command, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    text = mat_toml(read_mat("starter")).replace("strip_length_mm = 600.0", "strip_length_mm = 200.0")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["build", command, "--mat", "mine.toml"])
    assert ended.value.code == 2
    assert "ground.strip_length_mm = 600 at least" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


@pytest.mark.parametrize("command", ["parts", "steps", "wiring", "templates"])
def test_what_must_not_be_soldered_is_said_beside_what_is_bought_and_drawn(command, tmp_path, monkeypatch, capsys):
    """Such a description was one once and still opens: its mat is used on, and no other is built from it."""
    monkeypatch.chdir(tmp_path)
    text = re.sub(r"(?m)^series_ohm = .*$", "series_ohm = 100.0", mat_toml(read_mat("starter")))
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["build", command, "--mat", "mine.toml"])
    assert ended.value.code == 1
    said = " ".join(capsys.readouterr().err.split())
    assert said.startswith("REFUSED: do not build it so - A row at ground")
    assert "put 220 Ω into each row" in said


def test_the_clubs_arc_by_hand():
    # x^2 / 2R: 150^2 / 3000 = 7.5, 300^2 / 3000 = 30
    assert arc_mm(150.0) == pytest.approx(7.5, abs=0.05)
    assert arc_mm(300.0) == pytest.approx(30.0, abs=0.4)
    assert strip_for(12.61) == 600.0
    # Twice as high: the arc over its end has to be 50.4 mm, which is sqrt(3000 x 50.4 - 50.4^2) = 385.6 mm away.
    assert strip_for(25.2) == pytest.approx(2 * 385.6, abs=1)


def test_the_plate_calculator_refuses_with_exit_code_1(capsys):
    def typed(*words):
        with pytest.raises(SystemExit) as ended:
            main(["build", "plate", *words])
        return ended.value.code or 0, " ".join(capsys.readouterr().out.split())

    code, out = typed()
    assert code == 0
    assert "It bears up to 73 mm that nothing carries" in out
    code, out = typed("--span", "340")
    assert code == 1
    assert "REFUSED: do not build it so" in out
    assert "never on feet" in out
    assert typed("--span", "73")[0] == 0
    assert typed("--span", "74")[0] == 1
    assert typed("--span", "340", "--thickness", "17")[0] == 0
    assert typed("--material", "aluminium", "--thickness", "4")[0] == 0
    with pytest.raises(SystemExit):
        main(["build", "plate", "--material", "cardboard"])
    assert "o strength of 'cardboard' is known: name one of aluminium" in capsys.readouterr().err


def test_bevels_are_as_wide_as_the_step_asks():
    assert [bevel_for(h) for h in (6.0, 12.0, 12.7, 13.0)] == [0.0, 24.0, 25.4, 156.0]
