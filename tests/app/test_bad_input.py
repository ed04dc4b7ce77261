"""Bad input on the command line and in files: one clear sentence, an exit code, and nothing started or overwritten."""

import errno
import json
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
import serial
from scripted_mat import START
from using import film

from groundtone.calibration.own_profile import profile_path
from groundtone.calibration.profile import SCHEMA, read_profile
from groundtone.errors import GroundtoneError, ProfileError, Telling, ToneError, sentence_of
from groundtone.tone.output import WavWriter
from groundtone.twin.scenario import Empty, GolferSpec, MatSpec, Scenario, Session, demo_scenario

REFERENCE = {"rows": 16, "columns": 8, "layout": "reference-16x4"}


def sentences(said):
    return [line for line in said.err.splitlines() if line.startswith("groundtone: ")]


@pytest.mark.parametrize(
    ("weight", "named"),
    [
        ("nan", "'nan'"), ("-62", "'-62'"), ("24", "'24'"), ("24.999", "'24.999'"), ("131", "'131'"),
        ("inf", "'inf'"), ("heavy", "'heavy'"), ("62kg", "'62kg'"), ("", "''"), ("0x40", "'0x40'"),
    ],
)  # fmt: skip
def test_a_weight_that_will_not_do(groundtone, tmp_path, weight, named):
    said = groundtone("demo", "--fast", f"--weight={weight}", "--out", tmp_path / "out")
    assert said.code == 2
    assert f"Invalid value for '--weight': {named} will not do: give a number from 25 to 130 kg." in said.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("practise", "--stance", "nan"), ("practise", "--seconds", "-1"), ("practise", "--shoe", "9000"),
        ("practise", "--rate", "1000"), ("practise", "--hand", "both"), ("demo", "--seed", "-1"),
        ("demo", "--seed", "x"), ("demo", "--hand", "up"), ("no-such-command",), ("demo", "--no-such-option"),
    ],
)  # fmt: skip
def test_every_other_wrong_argument_is_a_usage_error(groundtone, arguments):
    said = groundtone(*arguments)
    assert said.code == 2
    assert "Error: " in said.err


def test_out_on_a_file(groundtone, tmp_path):
    (tmp_path / "file").write_text("mine")
    for command in ("demo", "practise"):
        said = groundtone(command, "--out", tmp_path / "file")
        assert said.code == 2
        assert "is a file." in said.err
    said = groundtone("demo", "--fast", "--out", tmp_path / "file" / "below")
    assert said.code == 2
    assert sentences(said) == [
        f"groundtone: The folder {tmp_path}/file/below cannot be made (Not a directory): choose another with --out."
    ]
    assert (tmp_path / "file").read_text() == "mine"


def test_out_where_nothing_can_be_written(groundtone, scripted, tmp_path):
    (tmp_path / "tones.wav").mkdir()
    said = groundtone("demo", "--fast", "--out", tmp_path)
    assert said.code == 2
    (sentence,) = sentences(said)
    assert "tones.wav" in sentence
    mat = scripted(**REFERENCE)
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port, "--out", tmp_path)
    assert said.code == 2
    assert "tones.wav" in sentences(said)[0]
    said = groundtone("demo", "--fast", "--out", "/proc/nothing-can-be-made-here")
    assert said.code == 2
    assert "cannot be made" in sentences(said)[0]


def test_result_and_picture_that_cannot_be_written_cost_nothing_that_was_measured(
    groundtone, monkeypatch, tmp_path, demo_folder
):
    known = read_profile(demo_folder.folder / "profile.json")
    monkeypatch.setattr("groundtone.app.live.demo.calibrate", lambda scenario, console=None: known)
    monkeypatch.setattr("groundtone.app.live.demo.why_in_process", lambda: "not now.")
    monkeypatch.setattr("groundtone.app.mat.why_in_process", lambda: "not now.")
    one = Scenario(demo_scenario(3, "left", 62.0).mat, Session(GolferSpec(hand="left"), rock_s=2.0, setup_s=1.0))
    monkeypatch.setattr("groundtone.app.live.demo.demo_scenario", lambda *given: one)
    (tmp_path / "result.json").mkdir()
    said = groundtone("demo", "--fast", "--seed", "3", "--hand", "left", "--weight", "62", "--out", tmp_path)
    assert said.code == 2
    assert f"{tmp_path}/result.json cannot be written (Is a directory): check the folder" in sentences(said)[0]
    assert said.out.count("\nswing ") == 1
    assert "frames over twin in this process" in said.out
    assert (tmp_path / "tones.wav").stat().st_size > 1_000_000


@pytest.mark.parametrize("port", ["/dev/no-such-port", "/dev/null", "/"])
def test_a_port_that_is_missing(groundtone, port):
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", port)
    assert said.code == 2
    assert sentences(said) == [
        f"groundtone: There is no mat at {port}: plug it in, or see 'groundtone doctor' for the ports that are there."
    ]


def test_a_port_that_is_busy(groundtone, scripted):
    mat = scripted()
    with serial.Serial(mat.port, exclusive=True):
        said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port)
    assert said.code == 2
    assert sentences(said) == [f"groundtone: {mat.port} is in use by another program: close that one first."]


def test_a_port_that_is_no_mat(groundtone, scripted):
    mat = scripted(silent=True)
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port)
    assert said.code == 2
    assert "does not answer as a mat: check that it is one and runs its firmware." in sentences(said)[0]


def test_no_port_named_and_none_there(groundtone, monkeypatch):
    monkeypatch.setattr("groundtone.link.find.list_ports.comports", list)
    said = groundtone("practise", "--no-wait", "--no-echo")
    assert said.code == 2
    (sentence,) = sentences(said)
    # No Bluetooth, or no mat on it: that depends on the computer.
    assert sentence.startswith("groundtone: No mat was found (no serial port on USB; no")
    assert ": plug it in, or" in sentence


def test_a_mat_of_another_wire_version(groundtone, scripted):
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", scripted(version=2).port)
    assert said.code == 2
    assert "speaks wire version 2 and this program version 1: bring the older of the two up to date." in said.err


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ({"layout": "unheard-of-9x9"}, "The mat's layout 'unheard-of-9x9' is not known here"),
        ({"layout": "reference-16x4"}, "The mat scans 10 x 6 cells and its layout reference-16x4 has 16 x 8"),
    ],
)
def test_a_layout_that_is_unknown_or_of_another_mat(groundtone, scripted, shape, words):
    mat = scripted(**{"rows": 10, "columns": 6, **shape})
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port)
    assert said.code == 2
    assert words in sentences(said)[0]
    assert START not in [command for command, _ in mat.requests]


def damaged(text):
    return text.replace('"exponent": ', '"exponent": 1')


def newer(text):
    return text.replace(f'"groundtone profile": {SCHEMA}', f'"groundtone profile": {SCHEMA + 1}')


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (damaged, "is damaged or was edited: take a copy of it or calibrate again."),
        (lambda text: text[:300], "is damaged: take a copy of it or calibrate again."),
        (lambda text: "", "is damaged: take a copy of it or calibrate again."),
        (lambda text: "[1, 2]", "is not a groundtone profile: choose another file."),
        (lambda text: json.dumps({"a": 1}), "is not a groundtone profile: choose another file."),
        (newer, "was written by a newer program: bring this one up to date."),
    ],
)
def test_a_profile_that_is_damaged(groundtone, scripted, demo_folder, tmp_path, spoil, words):
    good = (demo_folder.folder / "profile.json").read_text()
    profile = tmp_path / "profile.json"
    profile.write_text(spoil(good))
    assert profile.read_text() != good
    mat = scripted(**REFERENCE)
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port, "--profile", profile)
    assert said.code == 2
    assert sentences(said)[0].endswith(words)
    assert START not in [command for command, _ in mat.requests]


def test_a_profile_of_another_mat_of_another_layout_or_missing(groundtone, scripted, demo_folder, tmp_path):
    profile = demo_folder.folder / "profile.json"
    uid = demo_scenario(3, "left", 62.0).mat.uid
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", scripted(**REFERENCE).port, "--profile", profile)
    assert said.code == 2
    assert sentences(said) == [
        f"groundtone: The profile belongs to mat {uid} and this is mat 67742d7477696e21: calibrate this one, or check "
        "it with --new-board where that mat has got another board."
    ]
    starter = scripted(uid=bytes.fromhex(uid))
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", starter.port, "--profile", profile)
    assert said.code == 2
    assert "was made for layout reference-16x4 and the mat now has starter-10x3" in sentences(said)[0]
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", starter.port, "--profile", tmp_path / "none.json")
    assert said.code == 2
    assert "none.json cannot be read (No such file or directory): check its name." in sentences(said)[0]
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", starter.port, "--profile", tmp_path)
    assert said.code == 2


def test_names_with_brackets_are_printed_as_they_are(groundtone, monkeypatch, tmp_path):
    """A console that takes [twin] for a style would eat it."""
    monkeypatch.setattr("groundtone.app.mat.why_in_process", lambda: "Use pip install 'groundtone[twin]'.")
    monkeypatch.setattr("groundtone.app.doctor.why_in_process", lambda: "Use pip install 'groundtone[twin]'.")
    monkeypatch.setattr("groundtone.link.find.list_ports.comports", list)
    assert "  MEND   Use pip install 'groundtone[twin]'.\n" in groundtone("doctor").out


def test_python_m_groundtone_is_the_command(running):
    said = running("--version").end()
    assert said.code == 0
    assert said.out.startswith("groundtone, version ")


def test_the_film_for_a_scripted_mat_is_the_reference_build():
    """The tests' own tool: a film message is a frame of 244 bytes."""
    ((seq, whole),) = film(Scenario(MatSpec.reference(), Empty(1.0)), 0.0)
    assert (seq, len(whole)) == (0, 244)


@pytest.mark.parametrize("arguments", [("bench",), ("bench", "live", "--seeds", "3")])
def test_bench_says_where_it_went(groundtone, arguments):
    said = groundtone(*arguments)
    assert (said.code, said.out) == (2, "")
    assert said.err == (
        "groundtone: Bench has left the program: make study, in the folder of its source, lists and runs studies.\n"
    )


def test_listen_says_where_it_went(groundtone):
    said = groundtone("listen", "--port", "x", "--panel", "left")
    assert said.code == 2
    (sentence,) = sentences(said)
    assert sentence.startswith("groundtone: Listen has become practise: groundtone practise takes its options")
    assert "listen" not in groundtone("--help").out


# Not the window here: its libraries in the runner's own process were seen to end it with a segmentation fault later on.
@pytest.mark.parametrize("command", [("practise",), ("check",), ("calibrate", "bench")], ids=" ".join)
@pytest.mark.parametrize("seed", ["99999999999999999999", "2147483649", "9" * 5000])
def test_a_seed_that_will_not_do(groundtone, command, seed):
    said = groundtone(*command, "--twin", seed)
    assert said.code == 2
    assert sentences(said) == [
        f"groundtone: The seed {seed[:24]} will not do: give --twin a whole number from 0 to 2147483648."
    ]


def test_a_seed_that_will_not_do_for_the_window():
    seed = "99999999999999999999"
    command = [sys.executable, "-m", "groundtone", "window", "--twin", seed]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "The seed 99999999999999999999 will not do" in " ".join(done.stderr.split())


def test_a_mat_id_is_no_way_to_another_file():
    """A recording may say anything of its mat."""
    for uid in ("x/../../y", "..", "", "a\\b", "a\0b"):
        with pytest.raises(ProfileError, match="is no mat's id"):
            profile_path(uid)
    assert profile_path("67742d7477696e21").name == "67742d7477696e21.json"


def test_a_file_name_at_the_beginning_stays_what_it_is(groundtone, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.mcap").touch()
    said = groundtone("review", "empty.mcap")
    assert sentences(said) == ["groundtone: empty.mcap is empty: nothing was recorded."]
    assert sentence_of("a.b is there..") == "a.b is there."
    assert sentence_of("mind the gap.") == "Mind the gap."


def test_a_full_disk_is_called_one(tmp_path):
    words = "the list cannot be written (the disk is full): make room on it"
    for number in (errno.ENOSPC, errno.EDQUOT):
        with pytest.raises(GroundtoneError) as told, Telling(GroundtoneError, "the list cannot be written", "x"):
            raise OSError(number, "No space left on device")
        assert str(told.value) == words


def test_a_sound_file_on_a_full_disk(monkeypatch, tmp_path):
    """The sound file's library says no more than "System error"."""
    writer = WavWriter(tmp_path / "x.wav", 48_000)

    def full(block):
        raise RuntimeError("Error writing: System error.")

    monkeypatch.setattr(writer, "_file", SimpleNamespace(write=full, close=writer._file.close, closed=False))
    monkeypatch.setattr("groundtone.tone.output.shutil.disk_usage", lambda folder: SimpleNamespace(free=0))
    with pytest.raises(ToneError, match=r"x.wav \(the disk is full\), but it is made as before"):
        writer.write(np.zeros(8, np.float32))


def test_a_limit_in_per_cent_for_a_band_that_is_not_there(groundtone, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    assert groundtone("library", "add", "anna").code == 0
    said = groundtone("bands", "set", "anna", "foo=3")
    assert said.code == 2
    assert sentences(said)[0].startswith("groundtone: There is no band 'foo': say one of toes_setup, toes_before, ")
