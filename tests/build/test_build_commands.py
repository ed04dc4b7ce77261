"""`groundtone build …` as a builder types it: what is said, what is written, exit codes, one sentence at the end."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from groundtone.app.command import main
from groundtone.build.mat_file import read_mat
from groundtone.mat.layout import layout_of


@pytest.fixture
def run(capsys, monkeypatch, tmp_path):
    """Types a command in an empty folder; exit code, what was said, what was complained of."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path.parent / f"{tmp_path.name}-home"))

    def typed(*words):
        with pytest.raises(SystemExit) as ended:
            main(["build", *words])
        said = capsys.readouterr()
        return ended.value.code or 0, said.out, said.err

    return typed


def one_sentence(err):
    assert err.startswith("groundtone: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


def test_divider_for_a_film_of_ones_own(run):
    code, out, err = run("divider", "--at", "1", "40000", "--at", "10", "4000")
    assert (code, err) == (0, "")
    assert "conductance = 2.55 µS · (force / 1 N)^1.000" in out
    assert re.search(r"Pull-down Rs: \d+ Ω \(E12\)", out)
    assert "two rows joined, at the hardest moment" in out
    assert max(map(len, out.splitlines())) <= 80


def test_divider_refuses_with_exit_code_1(run):
    code, out, err = run("divider", "--series", "22")
    assert (code, err) == (1, "")
    assert "REFUSED: do not build it so" in out
    assert "more than the 15 mA allowed in a fault" in " ".join(out.split())


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("divider", "--at", "2", "5000", "--at", "10", "9000"), "the resistance must fall with the weight"),
        (("divider", "--at", "2", "1", "--at", "10", "0.5"), "out of range"),
        (("divider", "--mat", "nobody"), "there is no mat 'nobody'"),
        (("scan", "--mat", "none.toml"), "cannot be read"),
        (("layout", "--rows", "20"), "20 rows need as many pins"),
        (("layout", "--rows", "32", "--columns", "8"), "one notification has 244"),
        (("layout", "--board", "Toaster"), "the board 'Toaster' is not known"),
        (("network", "--joined", "12"), "row 12 has no next one"),
    ],
)
def test_what_cannot_be_computed_gets_one_sentence_and_writes_nothing(run, tmp_path, words, sentence):
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert sentence.lower() in one_sentence(err).lower()
    assert list(tmp_path.iterdir()) == []


def test_usage_is_explained(run):
    code, _, err = run("divider", "--at", "2", "17000")
    assert code == 2
    assert "give --at twice" in err
    code, _, err = run("divider", "--at", "2", "much", "--at", "3", "4")
    assert code == 2
    assert "'much' will not do" in err


def test_scan_says_what_does_not_fit(run):
    code, out, _ = run("scan", "--mat", "reference")
    assert code == 0
    assert "A frame has 244 bytes of 244" in out
    code, out, _ = run("scan", "--mat", "reference", "--rate", "400", "--oversample", "8", "--settle", "20")
    assert code == 1
    assert "NOT RIGHT" in out


def test_figures_as_json(run):
    code, out, _ = run("divider", "--json")
    assert code == 0
    found = json.loads(out)
    assert found["law"]["exponent"] == pytest.approx(0.899, abs=1e-3)
    assert len(found["currents"]) == 7
    code, out, _ = run("parts", "--json")
    assert any(part["name"].startswith("74HC4067") for part in json.loads(out))


def test_a_layout_is_written_and_used(run, tmp_path):
    code, out, _ = run(
        "layout", "--name", "mine", "--rows", "12", "--columns", "3", "--row-pitch", "26", "--out", "here"
    )
    assert code == 0
    assert "12 of 16 row pins, 6 of 8 multiplexer inputs" in out
    mat = tmp_path / "here" / "mine-12x3.toml"
    assert f"groundtone build install --mat {Path('here') / 'mine-12x3.toml'}" in out
    assert layout_of("mine-12x3") == read_mat(str(mat)).layout
    code, out, _ = run("parts", "--mat", str(mat))
    assert code == 0
    assert "| 72 pc. |" in out
    # What was changed in the description by hand goes to the same place by the same command.
    mat.write_text(mat.read_text().replace("pulldown_ohm = 1000", "pulldown_ohm = 680"))
    code, out, _ = run("layout", "--mat", str(mat))
    assert code == 0
    assert layout_of("mine-12x3").pulldown_ohm == 680.0


def test_the_netlist_runs_in_ngspice(run, tmp_path):
    assert shutil.which("ngspice"), "install ngspice (Debian: apt install ngspice)"
    code, out, _ = run("network", "--joined", "4", "--load", "empty", "--out", "mat.cir")
    assert code == 0
    ran = subprocess.run(["ngspice", "-b", "mat.cir"], capture_output=True, text=True, timeout=60, check=False)
    assert ran.returncode == 0
    high = [float(value) for value in re.findall(r"^i\(v4\) = (\S+)", ran.stdout, re.MULTILINE)]
    # Row 4 high on an empty mat, joined to row 5 by 1 ohm: 3.3 V through 270 + 1 + 250 ohm, out of V4.
    assert min(high) == pytest.approx(-3.3 / 521, rel=1e-6)
    code, out, _ = run("network", "--wet")
    assert code == 0
    assert out.count("RJ") == 9


def test_wiring_and_templates_write_their_files(run, tmp_path):
    code, out, _ = run("wiring", "--mat", "reference", "--out", "w")
    assert code == 0
    assert "| GP15, pin 20 | 220 Ω 1 %" in out
    folder = tmp_path / "w" / "reference-16x4"
    assert {path.name for path in folder.iterdir()} == {"wiring.md", "schematic.svg", "schematic.png"}
    code, out, _ = run("templates", "--mat", "starter", "--paper", "a4", "--out", "t")
    assert code == 0
    assert "Print at 100 %" in out
    assert (tmp_path / "t" / "starter-10x3" / "all-a4.pdf").read_bytes().startswith(b"%PDF")


def test_a_folder_that_cannot_be_written_is_said(run, tmp_path):
    (tmp_path / "out").write_text("a file")
    code, _, err = run("templates", "--mat", "starter", "--paper", "letter")
    assert code == 2
    assert "cannot be written" in one_sentence(err)


def test_steps_pictures_and_help(run, tmp_path):
    code, out, _ = run("steps")
    assert code == 0
    assert "The first hour: one panel is heard" in out
    code, out, _ = run("pictures", "--out", "p")
    assert code == 0
    assert len(list((tmp_path / "p").iterdir())) == 3
    code, out, _ = run("--help")
    assert code == 0
    for name in (
        "commission",
        "divider",
        "install",
        "layout",
        "network",
        "parts",
        "plate",
        "scan",
        "steps",
        "templates",
        "wiring",
    ):
        assert f"\n  {name} " in out
