"""`groundtone library …` as a coach uses it, bad input included; and a session that goes into it by listening."""

import io
import sys
import threading
import time
from pathlib import Path

import pytest
from scripted_mat import scripted  # noqa: F401 (a fixture)
from using import film

sys.path.append(str(Path(__file__).parents[1] / "record"))
from recorded import about, record

from groundtone.record.reader import open_recording
from groundtone.record.session import Golfer
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_add_list_rename_merge_export_erase(groundtone, home, tmp_path):
    assert "The library is empty" in groundtone("library", "list").out
    assert groundtone("library", "add", "Ann [b]", "--hand", "left", "--mass", "61.5").code == 0
    record(tmp_path / "old.mcap", 20, about(golfer=Golfer("whoever")))
    said = groundtone("library", "add", "Bob", "--recording", tmp_path / "old.mcap")
    assert said.code == 0, said.err
    (taken,) = (home / "recordings").glob("*.mcap")
    assert open_recording(taken).about.golfer.name == "Bob"
    assert (tmp_path / "old.mcap").exists()
    said = groundtone("library", "list").out
    assert "Ann [b]" in said
    assert [line.split()[:7] for line in said.splitlines() if line.startswith("Bob")] == [
        ["Bob", "right", "-", "-", "1", "1", "0"]
    ]
    assert "Bob is Robert from now on, in 1 recording too." in groundtone("library", "rename", "Bob", "Robert").out
    assert str(taken) in groundtone("library", "list", "Robert").out
    said = groundtone("library", "merge", "Ann [b]", "Robert", "--yes")
    assert said.out == "Ann [b] is Robert from now on, in 0 recordings too.\n"
    assert groundtone("library", "export", "Robert", tmp_path / "out.zip").out == (
        f"Tables and 1 recording of Robert are in {tmp_path / 'out.zip'}.\n"
    )
    assert groundtone("library", "check").out == "Library and recordings are whole and agree.\n"
    said = groundtone("library", "erase", "Robert", "--yes")
    assert said.out == ("Robert is erased, with 1 recording. Copies that were exported before are yours to remove.\n")
    assert not taken.exists()
    assert "The library is empty" in groundtone("library", "list").out


def test_nothing_is_erased_without_an_answer(groundtone, home, monkeypatch):
    groundtone("library", "add", "Ann")
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    said = groundtone("library", "erase", "Ann")
    assert said.code == 2
    assert "say --yes to do it without a question" in said.err
    monkeypatch.setattr("click.confirm", lambda question: False)
    said = groundtone("library", "erase", "Ann")
    assert said.code == 2
    assert said.err == "groundtone: Nothing was changed.\n"
    assert "Ann" in groundtone("library", "list").out


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["list", "Nobody"], "There is no golfer 'Nobody' in the library: see 'groundtone library list'."),
        (["erase", "Nobody", "--yes"], "There is no golfer 'Nobody' in the library: see 'groundtone library list'."),
        (["add", " "], "A golfer needs a code name: give a word or two."),
        (["add", "x" * 101], "A golfer's code name has more than 100 characters: choose a shorter one."),
        (["export", "Nobody", "out"], "There is no golfer 'Nobody' in the library: see 'groundtone library list'."),
        (["merge", "a", "b", "--yes"], "There is no golfer 'a' in the library: see 'groundtone library list'."),
    ],
)
def test_one_clear_sentence(groundtone, home, arguments, sentence):
    said = groundtone("library", *arguments)
    assert said.code == 2
    assert said.err == f"groundtone: {sentence}\n"


def test_a_damaged_library_and_a_damaged_recording(groundtone, home):
    groundtone("library", "add", "Ann")
    (home / "recordings").mkdir()
    record(home / "recordings" / "a.mcap", 20)
    (home / "recordings" / "b.mcap").write_bytes(b"of another program")
    (home / "library.sqlite").write_bytes(b"rubbish" * 1000)
    said = groundtone("library", "list")
    assert said.code == 2
    assert said.err.endswith("is damaged: 'groundtone library rebuild' makes it anew from the recordings.\n")
    said = groundtone("library", "rebuild")
    assert said.code == 1
    assert "The damaged library was set aside as " in said.out
    assert "b.mcap is no groundtone recording: choose another file." in said.out
    assert said.out.splitlines()[-1] == "1 recording in the library, 1 left out."
    assert "Ann" in groundtone("library", "list").out


def test_practising_records_into_the_library_or_says_that_it_does_not(groundtone, home, scripted):  # noqa: F811
    act = Session(GolferSpec(), (SwingSpec("good"),), seed=2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=1.5)
    frames = film(Scenario(MatSpec.reference(), act), 9.9)

    def practise(*arguments):
        mat = scripted(rows=16, columns=8, layout="reference-16x4")

        def play():
            mat.wait_for(lambda: len([1 for command, _ in mat.requests if command == 2]) == 2)
            mat.play(frames)

        player = threading.Thread(target=play)
        player.start()
        said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port, "--seconds", "9.8", *arguments)
        player.join()
        assert said.code == 0, said.err
        return said.out

    out = practise("--golfer", "Ann", "--block", "baseline", "--club", "7 iron", "--lie", "mat", "--usual", "130")
    (path,) = (home / "recordings").glob("*.mcap")
    assert f"Recording into {path}." in out
    assert "play: A baseline: as you always do, no tone." in out
    got = open_recording(path)
    assert got.lost == []
    assert got.about.golfer.name == "Ann"
    assert (got.about.block.kind, got.about.block.club, got.about.block.lie) == ("baseline", "7 iron", "mat")
    assert got.frames.raw.shape[0] >= 970
    assert [bytes(raw) for raw in got.frames.raw[:5]] == [message for _, message in frames[:5]]
    assert len(got.swings) == 1
    assert {entry.table["sound"] for entry in got.heard} == {"ready", "tick"}
    listed = groundtone("library", "list", "Ann").out
    assert "baseline 7 iron, silent, 1 swing" in listed
    time.sleep(1.1)
    out = practise("--no-record")
    assert "Nothing is recorded (--no-record)." in out
    assert len(list((home / "recordings").glob("*.mcap"))) == 1
