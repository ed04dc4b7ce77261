"""The library: golfers of any name, sessions and swings; made anew, shared, read-only, erased while open."""

import os
import sqlite3
import subprocess
import sys
import threading

import pytest
import sqlalchemy
from library_cases import analyse, asked, known, session, swings
from recorded import about, record

from groundtone.errors import BusyError, DamagedError, LibraryError, RecordError
from groundtone.record import database
from groundtone.record import library as libraries
from groundtone.record.channels import Channel
from groundtone.record.contents import check, open_for_rebuild, put, rebuild, unlisted
from groundtone.record.library import FILE, Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.record.schema import MIGRATIONS
from groundtone.record.session import Block, Golfer
from groundtone.review import golfers

NAMES = [
    "Ann",
    "O'Brien; DROP TABLE golfers; --",
    "\U0001f9b6\U0001f3fd toes",
    "\u05e9\u05dc\u05d5\u05dd",
    "../../etc/passwd",
    '"quoted" %s %d {x} [y] * ?',
    "a\tb\nc",
    "ann",
]


@pytest.mark.parametrize("name", NAMES)
def test_any_name_goes_in_and_out(either, name):
    library = either
    golfer = Golfer(name, "left", 61.5, 255.0, "notes: ' \" ; \n\U0001f642")
    library.add(golfer)
    assert library.golfer(name) == golfer
    library.change(Golfer(name, "right", None, None, ""))
    assert library.golfer(name) == Golfer(name)
    session(library, "a.mcap", name)
    assert known(library)[name] == (1, 1, 2)
    golfers.rename(library, name, f"{name}2")
    assert list(known(library)) == [f"{name}2"]
    assert golfers.erase(library, f"{name}2") == 1
    assert known(library) == {}


def test_names_that_will_not_do(either):
    library = either
    for name, words in [("", "needs a code name"), ("  ", "needs a code name"), ("a\0b", "a zero"), ("\ud800", "half")]:
        with pytest.raises(LibraryError, match=words):
            library.add(Golfer(name))
    with pytest.raises(RecordError, match="more than 100 characters"):
        Golfer("x" * 101)
    library.add(Golfer("Ann"))
    with pytest.raises(LibraryError, match="there is a golfer 'Ann' already"):
        library.add(Golfer("Ann"))


def test_a_session_with_blocks_strikes_and_measures(either):
    library = either
    path = library.recordings / "a.mcap"
    path.parent.mkdir()
    blocks = [
        Block(1, "baseline", "7 iron", "mat", 130.0, False),
        Block(2, "drill", "7 iron", "mat", 130.0, True, 1_200_000),
    ]

    def tell(recorder):
        recorder.block(blocks[1])
        recorder.strike({"id": "x", "impact_s": 2.01, "field": 4, "contact": "fat"})
        recorder.strike({"id": "y", "swing": 1, "field": 5})
        recorder.strike({"id": "z", "impact_s": 60.0})

    told = about(golfer=Golfer("Ann", "left", 60.0), block=blocks[0], lesson="first", simulated=True)
    record(path, 23, told, before_close=tell, step_s=0.1)
    put(library, open_recording(path), swings(1.0, 2.0), ["a doubt"])
    put(library, open_recording(path), swings(1.0, 2.0), ["a doubt"])  # again: nothing is doubled
    assert library.golfer("Ann") == Golfer("Ann", "left", 60.0)
    (row,) = library.recordings_of("Ann")
    assert (row.lesson, row.frames, row.simulated, row.doubts) == ("first", 23, 1, '["a doubt"]')
    got = asked(
        library,
        "SELECT b.kind, b.cues, b.usual_m, s.number, s.impact_s, m.name, m.value, m.reason FROM swings s "
        "JOIN blocks b ON b.id = s.block_id JOIN measures m ON m.swing_id = s.id ORDER BY s.number, m.name",
    )
    assert [tuple(r) for r in got] == [
        ("baseline", 0, 130.0, 1, 1.0, "share at impact", 0.8, ""),
        ("baseline", 0, 130.0, 1, 1.0, "toes free", None, "stepped off too soon"),
        ("drill", 1, 130.0, 2, 2.0, "share at impact", 0.8, ""),
        ("drill", 1, 130.0, 2, 2.0, "toes free", None, "stepped off too soon"),
    ]
    strikes = asked(library, "SELECT t.entry, s.number FROM strikes t LEFT JOIN swings s ON s.id = t.swing_id")
    assert sorted(tuple(r) for r in strikes) == [("x", 2), ("y", 1), ("z", None)]
    assert [r.name for r in asked(library, "SELECT name FROM findings")] == ["slide", "slide"]
    with pytest.raises(LibraryError, match="does not lie in the library's folder"):
        put(library, open_recording(record_beside(library)), [], [])


def record_beside(library):
    path = library.folder.parent / "beside.mcap"
    record(path, 3)
    return path


def test_made_anew_it_is_the_same(library):
    for number, name in enumerate(["Ann", "Bob", "Ann"]):
        session(library, f"{number}.mcap", name, lesson=f"lesson {number}")
    library.add(Golfer("only known", "left", 50.0, None, "never recorded"))
    golfers.rename(library, "Bob", "Rob")
    before = known(library)
    (library.folder / FILE).unlink()
    with Library(library.folder) as fresh:
        assert known(fresh) == {}
        assert len(unlisted(fresh)) == 3
        assert [why for _, why in rebuild(fresh, analyse)] == ["", "", ""]
        del before["only known"]
        assert known(fresh) == before == {"Ann": (2, 2, 4), "Rob": (1, 1, 2)}
        assert check(fresh) == []


def looked_into(folder):
    """What a damaged library says, when it is opened, listed or checked."""
    try:
        with Library(folder) as library:
            library.golfers()
            return " ".join(check(library))
    except DamagedError as error:
        return str(error)


@pytest.mark.parametrize("damage", ["rubbish", "cut", "hole"])
def test_a_damaged_library_is_said_and_made_anew(tmp_path, damage):
    folder = tmp_path / "home"
    with Library(folder) as library:
        for number in range(6):
            session(library, f"{number}.mcap", f"golfer {number}")
    data = (folder / FILE).read_bytes()
    if damage == "hole":
        data = data[:4096] + bytes(len(data) - 8192) + data[-4096:]
    (folder / FILE).write_bytes({"rubbish": os.urandom(5000), "cut": data[: len(data) // 2], "hole": data}[damage])
    assert "'groundtone library rebuild' makes it anew from the recordings" in looked_into(folder)
    library, said = open_for_rebuild(folder)
    with library:
        assert said.startswith("The damaged library was set aside as ")
        assert [why for _, why in rebuild(library, analyse)] == [""] * 6
        assert len(known(library)) == 6
        assert check(library) == []
        # What is left of the damaged one goes when somebody is erased: it holds them too.
        assert (folder / "library.damaged.sqlite").exists()
        golfers.erase(library, "golfer 1")
        assert not (folder / "library.damaged.sqlite").exists()


def test_rebuild_leaves_out_what_cannot_be_read_and_says_why(either):
    library = either
    path = session(library, "a.mcap", "Ann")
    gone = session(library, "b.mcap", "Bob")
    gone.unlink()
    (library.recordings / "c.mcap").write_bytes(b"something else")
    path.write_bytes(path.read_bytes()[:-100])
    assert [(p.name, why[-42:]) for p, why in rebuild(library, analyse)] == [
        ("a.mcap", ""),
        ("c.mcap", "no groundtone recording: choose another file"[-42:]),
    ]
    assert known(library) == {"Ann": (1, 1, 2), "Bob": (0, 0, 0)}


def test_check_says_what_is_wrong(either):
    library = either
    missing, changed = session(library, "a.mcap", "Ann"), session(library, "b.mcap", "Ann")
    assert check(library) == []
    missing.unlink()
    append(changed, [(Channel.NOTE, {"text": "x"})])
    record(library.recordings / "c.mcap", 3)
    assert check(library) == [
        "recordings/a.mcap is missing: bring it back, or forget it with 'groundtone library rebuild'.",
        "recordings/b.mcap has changed since: 'groundtone library rebuild' reads it again.",
        "c.mcap is not in the library: 'groundtone library rebuild' puts it in.",
    ]


def test_check_counts_the_frames_that_were_cut_off(either):
    library = either
    path = session(library, "a.mcap", "Ann")
    before = len(open_recording(path).frames)
    os.truncate(path, path.stat().st_size // 2)
    left = len(open_recording(path).frames)
    assert 0 < left < before
    assert f"a.mcap had {before} frames, and {before - left} of them are gone." in check(library)


def test_two_programs_write(either, tmp_path):
    library = either
    script = (
        "import sys; from pathlib import Path; from groundtone.record.library import Library;"
        "from groundtone.record.session import Golfer\n"
        "with Library(Path(sys.argv[1])) as library:\n"
        "    for i in range(40): library.add(Golfer(f'{sys.argv[2]} {i}'))\n"
    )
    programs = [
        subprocess.Popen([sys.executable, "-c", script, str(library.folder), name], stderr=subprocess.PIPE)
        for name in ("one", "two")
    ]
    for program in programs:
        assert program.communicate(timeout=120)[1] == b""
    assert len(known(library)) == 80


def test_a_writer_that_does_not_end_is_said(library):
    with Library(library.folder, busy_s=0.2) as waiting:
        with library.writing():
            assert known(waiting) == {}  # readers never wait
            with pytest.raises(BusyError, match="another program is writing the library just now: try again"):
                waiting.add(Golfer("Ann"))
        waiting.add(Golfer("Ann"))


def test_many_at_once_make_one_new_library(tmp_path):
    failed = []

    def work(number):
        try:
            with Library(tmp_path / "home") as library:
                library.add(Golfer(f"golfer {number}"))
        except LibraryError as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with Library(tmp_path / "home") as library:
        assert len(known(library)) == 6


def test_on_a_read_only_disk_it_can_be_read(library, monkeypatch):
    session(library, "a.mcap", "Ann")
    library.close()
    monkeypatch.setattr(libraries.os, "access", lambda path, mode: False)
    with Library(library.folder) as found:
        assert found.read_only
        assert known(found) == {"Ann": (1, 1, 2)}
        with pytest.raises(LibraryError, match=r"can only be read .*: nothing was changed"):
            found.add(Golfer("Bob"))
        with pytest.raises(LibraryError, match="can only be read"):
            golfers.erase(found, "Ann")
    assert (library.recordings / "a.mcap").exists()
    with pytest.raises(LibraryError, match="cannot be written and holds no library"):
        Library(library.recordings)


def test_a_newer_library_is_refused_and_an_older_one_brought_up(library, monkeypatch):
    library.add(Golfer("Ann"))
    library.close()
    monkeypatch.setattr(database, "MIGRATIONS", (*MIGRATIONS, "ALTER TABLE golfers ADD COLUMN since TEXT;"))
    with Library(library.folder) as newer:
        assert asked(newer, "SELECT since, name FROM golfers")[0].name == "Ann"
    with Library(library.folder):
        pass
    monkeypatch.undo()
    with pytest.raises(LibraryError, match="was written by a newer program: bring this one up to date"):
        Library(library.folder)
    with pytest.raises(LibraryError, match="newer program"):
        open_for_rebuild(library.folder)
    assert sqlite3.connect(library.folder / FILE).execute("SELECT name FROM golfers").fetchall() == [("Ann",)]


def test_a_migration_that_fails_changes_nothing(library, monkeypatch):
    library.close()
    monkeypatch.setattr(database, "MIGRATIONS", (*MIGRATIONS, "CREATE TABLE more (a); CREATE TABLE golfers (a);"))
    with pytest.raises(LibraryError):
        Library(library.folder)
    monkeypatch.undo()
    with Library(library.folder) as found:
        assert asked(found, "SELECT name FROM sqlite_master WHERE name = 'more'") == []


def test_a_full_disk_changes_nothing(library):
    library.add(Golfer("Ann"))
    pages = asked(library, "PRAGMA page_count")[0][0]
    asked(library, f"PRAGMA max_page_count = {pages}")
    with pytest.raises(LibraryError, match="the disk is full: free some space and do it again, nothing was changed"):
        library.add(Golfer("Bob", notes="x" * 200_000))
    asked(library, "PRAGMA max_page_count = 100000")
    assert list(known(library)) == ["Ann"]


@pytest.mark.parametrize("at", ["INSERT INTO recordings", "COMMIT"])
def test_who_is_interrupted_while_it_is_put_in_leaves_all_or_nothing(library, at):
    """Ctrl-C or SIGTERM within the database's own code: it is what it was, and goes on afterwards."""
    session(library, "a.mcap", "Ann")
    before = known(library)
    stopped = []

    def interrupted(cursor, statement, parameters, context):
        if statement.startswith(at) and not stopped:
            stopped.append(statement)
            raise KeyboardInterrupt

    sqlalchemy.event.listen(library._connection.engine, "do_execute", interrupted)
    with pytest.raises(KeyboardInterrupt):
        session(library, "b.mcap", "Bo")
    assert known(library) == before
    put(library, open_recording(library.recordings / "b.mcap"), swings(), [])
    assert list(known(library)) == ["Ann", "Bo"]
    assert golfers.erase(library, "Bo") == 1  # what hangs on others goes with them, as ever
    assert known(library) == before
    assert library.sound()
