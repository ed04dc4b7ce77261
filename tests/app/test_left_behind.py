"""Sessions that were not ended in order, or could not be filed: nothing is lost, and the next command files it."""

import shutil
import signal

import pytest
from patience import until

from groundtone.record.reader import open_recording
from groundtone.record.unfiled import unfiled


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def cut_off(running, home, how):
    """A practice ended by a signal in the midst of its film: its recording, and what it said."""
    practice = running("practise", "--twin", "3", "--fast", "--golfer", "anna")
    (file,) = until(lambda: list((home / "recordings").glob("*.mcap")))
    until(lambda: file.stat().st_size > 60_000)
    practice.process.send_signal(how)
    return file, practice.end()


def test_a_killed_practice_is_filed_by_the_next_command_and_told_once(running, groundtone, home):
    file, said = cut_off(running, home, signal.SIGKILL)
    assert said.code == -signal.SIGKILL
    assert unfiled(home) == [file]
    first = groundtone("library", "list", "anna")
    when = f"{file.stem[:10]} {file.stem[11:13]}:{file.stem[13:15]}"
    assert first.err == f"The session of {when} had not been ended in order: it is in the library now.\n"
    assert file.stem[:10] in first.out
    assert unfiled(home) == []
    assert groundtone("library", "list", "anna").err == ""
    frames = len(open_recording(file).frames)
    assert frames > 100
    assert groundtone("review", "last").code == 0


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_practice_that_is_stopped_files_its_session(running, home, how):
    file, said = cut_off(running, home, how)
    assert said.code == 0
    assert f"Saved in {file}.\n'groundtone review last' shows its swings" in said.out
    assert unfiled(home) == []
    assert open_recording(file).lost == []


def test_a_session_that_is_being_recorded_is_nobody_elses_yet(running, groundtone, home):
    practice = running("practise", "--twin", "3", "--golfer", "anna")
    (file,) = until(lambda: list((home / "recordings").glob("*.mcap")))
    until(lambda: file.stat().st_size > 20_000)
    assert unfiled(home) == []
    practice.process.send_signal(signal.SIGINT)
    assert practice.end().code == 0


@pytest.mark.parametrize("what", ["damaged", "a folder", "newer"])
def test_a_library_that_cannot_be_used_hinders_nobody(groundtone, home, what):
    home.mkdir()
    library = home / "library.sqlite"
    if what == "a folder":
        library.mkdir()
    else:
        library.write_bytes(b"no database" * 1000 if what == "damaged" else b"")
        if what == "newer":
            import sqlite3

            with sqlite3.connect(library) as connection:
                connection.execute("PRAGMA user_version = 99")
    said = groundtone("practise", "--twin", "3", "--fast", "--seconds", "12", "--golfer", "anna")
    assert said.code == 0
    words = " ".join(said.out.split())
    assert "anna practises all the same, and the session is put in when that is mended." in words
    (file,) = (home / "recordings").glob("*.mcap")
    assert f"Saved in {file}. 'groundtone review {file}' shows" in words
    assert open_recording(file).about.golfer.name == "anna"
    if what == "damaged":
        assert groundtone("library", "rebuild").code == 0
    else:
        shutil.rmtree(library) if what == "a folder" else library.unlink()
    assert file.stem[:10] in groundtone("library", "list", "anna").out


def test_what_cannot_be_read_is_told_of_once(groundtone, home):
    (home / "recordings").mkdir(parents=True)
    path = home / "recordings" / "2026-01-02-030405-abcdef01.mcap"
    path.write_bytes(b"\x89MCAP0\r\n")
    first = groundtone("library", "list")
    assert first.err.startswith("The session of 2026-01-02 03:04 cannot be put into the library: ")
    assert "nothing is lost" in first.err
    assert groundtone("library", "list").err == ""
    path.write_bytes(b"\x89MCAP0\r\nx")  # it has changed
    assert "cannot be put" in groundtone("library", "list").err
