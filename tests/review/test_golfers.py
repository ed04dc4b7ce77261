"""Golfers renamed, merged, erased and exported: in the library and in their recordings."""

import csv
import zipfile

import pytest
from library_cases import analyse, asked, known, session, swings
from recorded import about, record
from sqlalchemy import text

from groundtone.errors import BusyError, LibraryError, MissingError
from groundtone.record.contents import check, put, rebuild
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import Golfer
from groundtone.review import golfers
from groundtone.review.golfer_export import give


def test_two_golfers_become_one(either):
    library = either
    session(library, "a.mcap", "Ann", lesson="monday")
    session(library, "b.mcap", "Anne", lesson="monday")
    session(library, "c.mcap", "Anne", lesson="friday")
    library.change(Golfer("Ann", "left", 60.0))
    assert golfers.merge(library, "Anne", "Ann") == 2
    assert known(library) == {"Ann": (2, 3, 6)}
    assert open_recording(library.recordings / "c.mcap").about.golfer == Golfer("Ann", "left", 60.0)
    assert check(library) == []
    list(rebuild(library, analyse))
    assert known(library) == {"Ann": (2, 3, 6)}
    with pytest.raises(MissingError, match="there is no golfer 'Anne'"):
        golfers.merge(library, "Anne", "Ann")
    with pytest.raises(LibraryError, match="both names are the same"):
        golfers.merge(library, "Ann", "Ann")


def test_sessions_without_a_name_can_be_given_one(either):
    library = either
    session(library, "a.mcap", "")
    assert known(library) == {"": (1, 1, 2)}
    golfers.rename(library, "", "Ann")
    list(rebuild(library, analyse))
    assert known(library) == {"Ann": (1, 1, 2)}
    library.add(Golfer("Bob"))
    with pytest.raises(LibraryError, match="'groundtone library merge' makes one of two"):
        golfers.rename(library, "Ann", "Bob")


def test_erased_is_erased(either, tmp_path):
    library = either
    path = session(library, "a.mcap", "Ann unmistakable")
    other = session(library, "b.mcap", "Bob")
    hidden = library.recordings / "never listed.mcap"
    record(hidden, 5, about(golfer=Golfer("Ann unmistakable")))
    assert golfers.erase(library, "Ann unmistakable") == 2
    assert not path.exists()
    assert not hidden.exists()
    assert other.exists()
    assert known(library) == {"Bob": (1, 1, 2)}
    for table, count in [("recordings", 1), ("lessons", 1), ("blocks", 1), ("swings", 2), ("measures", 4)]:
        assert asked(library, f"SELECT count(*) FROM {table}")[0][0] == count
    library.close()
    for file in library.folder.rglob("*"):
        assert not file.is_file() or b"unmistakable" not in file.read_bytes()
    with Library(library.folder) as again, pytest.raises(MissingError):
        golfers.erase(again, "Ann unmistakable")


def test_erased_while_another_program_has_the_library_open(either):
    library = either
    path = session(library, "a.mcap", "Ann")
    recording = open_recording(path)
    with Library(library.folder) as other:
        golfers.erase(other, "Ann")
    with pytest.raises(MissingError, match="there is no golfer 'Ann' in the library"):
        library.golfer("Ann")
    with pytest.raises(MissingError, match="the recording was erased by another program meanwhile"):
        put(library, recording, swings(1.0), [])
    with (
        pytest.raises(MissingError, match="was erased or changed by another program meanwhile: nothing was written"),
        library.writing() as execute,
    ):
        execute(text("INSERT INTO lessons (golfer_id, name) VALUES (1, 'x')"))
    assert known(library) == {}


def test_nobody_is_erased_or_renamed_while_they_are_being_recorded(either):
    library = either
    session(library, "a.mcap", "Ann")
    recorder = begin(library.recordings / "now.mcap", about(golfer=Golfer("Ann")))
    for change in (lambda: golfers.erase(library, "Ann"), lambda: golfers.rename(library, "Ann", "Bob")):
        with pytest.raises(BusyError, match=r"now\.mcap is being recorded just now: end that session first"):
            change()
    assert known(library) == {"Ann": (1, 1, 2)}
    assert (library.recordings / "a.mcap").exists()
    recorder.close()
    assert golfers.erase(library, "Ann") == 2


@pytest.mark.parametrize("zipped", [False, True])
def test_everything_of_a_golfer_is_given_out(either, tmp_path, zipped):
    library = either
    path = session(library, "a.mcap", "Ann, the 1st")
    session(library, "b.mcap", "Bob")
    to = tmp_path / ("out.zip" if zipped else "out")
    assert give(library, "Ann, the 1st", to) == 1
    if zipped:
        with zipfile.ZipFile(to) as archive:
            archive.extractall(tmp_path / "unzipped")
        to = tmp_path / "unzipped"
    assert sorted(p.relative_to(to).as_posix() for p in to.rglob("*.*")) == [
        "blocks.csv", "findings.csv", "golfer.csv", "measures.csv", "recordings.csv", "recordings/a.mcap",
        "strikes.csv", "swings.csv",
    ]  # fmt: skip
    assert (to / "recordings" / "a.mcap").read_bytes() == path.read_bytes()
    with (to / "golfer.csv").open(encoding="utf-8", newline="") as file:
        assert list(csv.DictReader(file)) == [
            {"name": "Ann, the 1st", "hand": "right", "mass_kg": "", "shoe_mm": "", "notes": ""}
        ]
    with (to / "measures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 4
    assert rows[0]["value"] == "0.8"
    assert rows[1]["reason"] == "stepped off too soon"
    with (to / "strikes.csv").open(encoding="utf-8") as file:
        assert file.read().strip() == "session,swing,entry,detail"
    with pytest.raises(LibraryError, match="is there already and nothing is written over"):
        give(library, "Ann, the 1st", tmp_path / ("out.zip" if zipped else "out"))


def test_nothing_half_given_out_is_left(either, tmp_path, monkeypatch):
    library = either
    session(library, "a.mcap", "Ann")
    monkeypatch.setattr("groundtone.review.golfer_export.shutil.copyfile", no_space)
    with pytest.raises(LibraryError, match=r"cannot be written \(No space left on device\)"):
        give(library, "Ann", tmp_path / "out")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["home"]
    with pytest.raises(MissingError):
        give(library, "Bob", tmp_path / "out")


def no_space(*_):
    raise OSError(28, "No space left on device")


def test_a_walk_ins_session_is_named_afterwards(either):
    library = either
    path = session(library, "a.mcap", "", lesson="walk-in 11:20")
    other = session(library, "b.mcap", "", lesson="walk-in 12:40")
    library.add(Golfer("Ann", "left"))
    golfers.name_session(library, path, "ann")
    assert known(library) == {"": (1, 1, 2), "Ann": (1, 1, 2)}
    assert open_recording(path).about.golfer == Golfer("Ann", "left")
    assert check(library) == []
    with pytest.raises(LibraryError, match="belongs to 'Ann' already"):
        golfers.name_session(library, path, "Bob")
    list(rebuild(library, analyse))
    assert known(library) == {"": (1, 1, 2), "Ann": (1, 1, 2)}
    assert open_recording(other).about.golfer.name == ""


def test_only_a_session_without_a_swing_is_deleted(either):
    library = either
    hit = session(library, "a.mcap", "Ann")
    empty = library.recordings / "b.mcap"
    record(empty, 5, about(golfer=Golfer("Ann")))
    put(library, open_recording(empty), [], [])
    with pytest.raises(LibraryError, match="there are swings in a"):
        golfers.delete_empty(library, hit)
    golfers.delete_empty(library, empty)
    assert not empty.exists()
    assert known(library) == {"Ann": (1, 1, 2)}


def test_a_table_holds_no_formula(either, tmp_path):
    library = either
    """A spreadsheet would take such words for one, and run it."""
    for name in ("=1+1", "+A1", "-A1", "@SUM(A1)"):
        library.add(Golfer(name, notes="=HYPERLINK(1)"))
        to = tmp_path / f"out {name[0]}"
        give(library, name, to)
        with (to / "golfer.csv").open(newline="") as file:
            (row,) = csv.DictReader(file)
        assert (row["name"], row["notes"]) == (f"'{name}", "'=HYPERLINK(1)")


def test_lanes_go_with_the_golfer(either):
    library = either
    path, other = session(library, "a.mcap", "Ann"), session(library, "b.mcap", "Bob")
    lanes = library.folder / "lanes"
    lanes.mkdir()
    kept = {who: lanes / f"{open_recording(file).about.session}-9.npz" for who, file in (("Ann", path), ("Bob", other))}
    for file in kept.values():
        file.write_bytes(b"lanes")
    golfers.erase(library, "Ann")
    assert sorted(lanes.iterdir()) == [kept["Bob"]]
