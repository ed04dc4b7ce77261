"""The whole library in one file, and back into another home folder."""

import zipfile

import pytest
from library_cases import known, session

from groundtone.cue.personal import Own, Personal, bands_for, write_personal
from groundtone.errors import LibraryError
from groundtone.feel.plan import Plan, read_plan, write_plan
from groundtone.record.contents import check
from groundtone.record.library import Library
from groundtone.record.session import Golfer
from groundtone.review.backup import back_up, restore


@pytest.fixture
def whole(library):
    session(library, "a.mcap", "Ann")
    library.change(Golfer("Ann", "left", 61.5, notes="stiff knee"))
    write_personal(Personal("Ann", own={"trail": Own(0.64, "coach")}), library.folder)
    profiles = library.folder / "profiles"
    profiles.mkdir()
    (profiles / "mat.json").write_text("{}")
    write_plan(Plan("Ann", ("7 iron",), "", 24, 4, made="2026-03-14"), library.folder)
    (library.folder / "layouts").mkdir()
    (library.folder / "layouts" / "own-10x3.toml").write_text("x")
    return library


def test_a_library_moves_to_another_home(whole, tmp_path):
    kept = tmp_path / "out" / "all.zip"
    assert back_up(whole.folder, kept) == 6
    home = tmp_path / "other"
    assert restore(kept, home) == (1, 0)
    with Library(home) as other:
        assert other.golfer("Ann") == Golfer("Ann", "left", 61.5, notes="stiff knee")
        assert [row.session for row in other.recordings_of("Ann")] == [
            row.session for row in whole.recordings_of("Ann")
        ]
        assert check(other) == []
    assert bands_for("Ann", home).as_bands().trail == 0.64
    assert (home / "profiles" / "mat.json").read_text() == "{}"
    # With the plan the date of its test moves too.
    assert read_plan("Ann", home) == read_plan("Ann", whole.folder) is not None
    assert (home / "layouts" / "own-10x3.toml").read_text() == "x"


def test_what_is_there_stays(whole, tmp_path):
    kept = tmp_path / "all.zip"
    back_up(whole.folder, kept)
    whole.change(Golfer("Ann", "right", 70.0))
    assert restore(kept, whole.folder) == (0, 1)
    assert whole.golfer("Ann") == Golfer("Ann", "right", 70.0)
    assert known(whole)["Ann"][1] == 1


def test_a_file_that_is_no_library_changes_nothing(tmp_path):
    (tmp_path / "noise.zip").write_bytes(bytes(range(256)) * 10)
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("../escape.txt", "x")
    for name in ("noise.zip", "other.zip"):
        with pytest.raises(LibraryError, match="no backed-up library"):
            restore(tmp_path / name, tmp_path / "home")
    assert not (tmp_path / "home").exists()


def test_nothing_is_written_over(whole, tmp_path):
    (tmp_path / "all.zip").write_text("mine")
    with pytest.raises(LibraryError, match="is there already"):
        back_up(whole.folder, tmp_path / "all.zip")
    assert (tmp_path / "all.zip").read_text() == "mine"
    with pytest.raises(LibraryError, match="nothing in"):
        back_up(tmp_path / "empty", tmp_path / "b.zip")
