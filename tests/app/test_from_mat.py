"""`groundtone from-mat`: swings that the mat noted while it was alone stand in the library once, for whom they are."""

import math
import struct
import zlib
from pathlib import Path

import pytest
from scripted_mat import scripted  # noqa: F401 (a fixture)

from groundtone.errors import RecordError
from groundtone.files import data_folder
from groundtone.mat.layout import layout_of
from groundtone.onboard.switch import keep_own
from groundtone.record.library import Library
from groundtone.record.on_mat import keep_owner
from groundtone.record.recorder import Recorder
from groundtone.record.session import Golfer
from groundtone.review import golfers
from groundtone.review.library_reader import session_lines, sessions_of
from groundtone.review.noted import NOT_NOTED, measures_of
from groundtone.swing.doubts import guessed_doubts
from groundtone.wire.notes import Note

LAYOUT = layout_of("reference-16x4")
MORNING = 1_790_000_000
NOTHING = 0xFFFF


def note(
    number, power_up=0, flags=4 | 16, digest=77, time_s=MORNING, since_s=100.0, weight_n=800, share=0.5, back=1100
):  # fmt: skip
    """A note as the board would write it, packed by hand."""
    place = [round(x * 16384) for x in (share, 0.25, 0.8, 0.85)]
    body = struct.pack(
        "<BBHIIIIHHHHHHHHHHHHHHHHHHHHH", 1, flags, 0xBEEF, number, digest, time_s, round(since_s * 10), power_up,
        round(weight_n * 10), back, 300, 256, 2048, *place, round(0.4 * 16384), NOTHING, round(0.6 * 16384),
        round(0.65 * 16384), round(0.9 * 16384), round(1.5 * 16384), 250, 150, round(0.95 * 16384), 0, 0,
    )  # fmt: skip
    return body + struct.pack("<H", zlib.crc32(body) & 0xFFFF)


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    """A library that no other test has written into: what it holds is counted."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))


@pytest.fixture
def noted(scripted, request):  # noqa: F811
    """A mat that answers with notes, and what it was asked to forget."""
    uid = zlib.crc32(request.node.name.encode()).to_bytes(8, "big")
    mat = scripted(rows=16, columns=8, layout=LAYOUT.id, uid=uid)
    mat.notes, mat.forgot, mat.times, mat.uid = [], [], [], uid.hex()

    def span(number, _):
        return mat.reply(number, 18, 0, struct.pack("<HII", 0xBEEF, 0, len(mat.notes)))

    def read(number, arguments):
        (at,) = struct.unpack("<I", arguments)
        return mat.reply(number, 19, 0, struct.pack("<I", at) + b"".join(mat.notes[at : at + 3]))

    def forget(number, arguments):
        mat.forgot.append(struct.unpack("<I", arguments)[0])
        return mat.reply(number, 20, 0, struct.pack("<HII", 0xBEEF, 0, 0))

    def on(number, arguments):
        mat.times.append(struct.unpack("<I", arguments)[0])
        return mat.reply(number, 14, 0, bytes(6))

    mat._answers |= {14: on, 18: span, 19: read, 20: forget}
    return mat


def fetch(groundtone, mat, *more):
    said = groundtone("from-mat", "--port", mat.port, *more)
    assert said.code == 0, said.err
    return said.out


def test_swings_come_once_and_by_power_up(groundtone, noted):
    noted.notes += [note(0), note(1, since_s=140), note(2, power_up=1, flags=8, time_s=MORNING + 60)]
    with Library(data_folder()) as library:
        library.add(Golfer("Wren", "right", 62.0, None))
        keep_owner(library, "Wren", noted.uid, 77)
    out = fetch(groundtone, noted)
    assert "2 swings of Wren came." in out
    assert "carried on by the mat's own clock" in out
    assert "The mat had no clock" in out
    assert len(noted.times) == 1
    with Library(data_folder()) as library:
        first, second = sessions_of(library, "Wren")
    rows = [row for block in first.blocks for row in block.swings]
    assert [row.number for row in rows] == [1, 2]
    assert rows[0].t_s == 100.0
    assert rows[1].values["share_impact"] == pytest.approx(0.8, abs=1e-4)
    assert rows[1].values["share_turn"] == pytest.approx(0.25, abs=1e-4)
    assert rows[1].values["to_turn_s"] == pytest.approx(0.8)
    assert rows[1].values["force_most"] == pytest.approx(1.5, abs=1e-4)
    assert "overall_turn" not in rows[1].doubts
    assert rows[0].events["impact"][1] == "strike sensor"
    assert [row.events["impact"][1] for block in second.blocks for row in block.swings] == ["pressure"]
    assert "there are key figures of each, and no frames" in first.doubts[0]
    # Once more: nothing comes twice, and what is new comes.
    assert "Nothing new" in fetch(groundtone, noted)
    noted.notes.append(note(3, power_up=1, flags=8, since_s=150))
    assert "1 swing of Wren came." in fetch(groundtone, noted)
    with Library(data_folder()) as library:
        assert [line.swings for line in session_lines(library)] == [1, 1, 2]
    rebuilt = groundtone("library", "rebuild")
    assert rebuilt.code == 0, rebuilt.err
    with Library(data_folder()) as library:
        assert sum(line.swings for line in session_lines(library)) == 4


@pytest.mark.parametrize("command", [18, 19])
def test_a_reply_that_makes_no_sense_is_said(groundtone, noted, command):
    noted.notes += [note(0)]
    noted._answers[command] = lambda number, _: noted.reply(number, command, 0, b"two")
    said = groundtone("from-mat", "--port", noted.port)
    assert said.code == 2
    assert "What the mat says of its notes makes no sense" in said.err


def test_a_fetch_that_is_cut_leaves_nothing_that_counts_for_all_of_its_swings(groundtone, noted, monkeypatch):
    noted.notes += [note(0), note(1, since_s=140)]

    def cut(self):
        raise KeyboardInterrupt

    with monkeypatch.context() as then:
        then.setattr(Recorder, "close", cut)
        assert groundtone("from-mat", "--port", noted.port, "--golfer", "Cut").code != 0
    assert groundtone("library", "list").code == 0
    with monkeypatch.context() as then:  # and where the disk is full
        then.setattr(Recorder, "trouble", RecordError("the disk is full"))
        said = groundtone("from-mat", "--port", noted.port, "--golfer", "Cut", "--clear")
        assert said.code == 2
        assert "disk is full" in said.err
    assert noted.forgot == []
    assert "2 swings of Cut came." in fetch(groundtone, noted, "--golfer", "Cut")
    assert list(data_folder().rglob("*.part")) == []


def test_a_mat_full_of_notes_forgets_them_a_little_at_a_time(groundtone, noted):
    noted.notes += [note(k) for k in range(600)]
    fetch(groundtone, noted, "--golfer", "Full", "--clear")
    assert noted.forgot == [256, 512, 600]


def test_what_was_put_on_for_who_is_merged_is_the_others(groundtone, noted):
    with Library(data_folder()) as library:
        for name in ("Old name", "New name"):
            library.add(Golfer(name))
        keep_owner(library, "Old name", noted.uid, 77)
        golfers.merge(library, "Old name", "New name")
    noted.notes.append(note(0))
    assert "1 swing of New name came." in fetch(groundtone, noted)


def test_an_erased_golfers_swings_do_not_come_back(groundtone, noted):
    noted.notes.append(note(0))
    with Library(data_folder()) as library:
        library.add(Golfer("Gone", "right", None, None))
        keep_owner(library, "Gone", noted.uid, 77)
    fetch(groundtone, noted)
    assert groundtone("library", "erase", "Gone", "--yes").code == 0
    assert "Nothing new" in fetch(groundtone, noted)


def test_whose_they_are_may_be_said_and_the_mat_may_forget(groundtone, noted):
    noted.notes += [note(0, flags=4 | 1), note(1)[:-1] + b"\0"]
    out = fetch(groundtone, noted, "--golfer", "Teal", "--clear")
    assert "1 swing of Teal came." in out
    assert "1 swing could not be read" in out
    assert noted.forgot == [2]


def test_a_session_of_notes_is_reviewed_and_put_on_a_page(groundtone, noted, tmp_path):
    noted.notes += [note(k, since_s=100 + 40 * k, share=0.5 + 0.01 * k) for k in range(3)]
    fetch(groundtone, noted, "--golfer", "Teal")
    seen = groundtone("review", "last")
    assert seen.code == 0, seen.err
    assert "no frames" in seen.out
    exported = groundtone("export", "last", "--out", tmp_path / "x.csv")
    assert "Traceback" not in exported.err
    page = groundtone("page", "last", "--out", tmp_path)
    assert "Traceback" not in page.err


def test_what_the_mat_did_not_know_is_no_number():
    unknown = Note.of(note(0, share=NOTHING / 16384))
    assert math.isnan(unknown.share[0])
    assert measures_of(unknown, guessed_doubts())["share_setup"].reason == NOT_NOTED
    # Whatever a recording says: a swing that never began is none, and nothing is measured around it.
    assert Note.of(note(0, back=NOTHING)) is None


def test_security_says_what_a_fetch_leaves(groundtone, noted, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    noted.notes.append(note(0))
    fetch(groundtone, noted)
    keep_own(tmp_path, noted.uid, 77, "a profile")
    told = (Path(__file__).parents[2] / "SECURITY.md").read_text("utf-8")
    assert [path.name for path in tmp_path.iterdir() if path.is_dir() and f"`{path.name}/`" not in told] == []


def test_old_firmware_is_told(groundtone, scripted):  # noqa: F811
    mat = scripted(rows=16, columns=8, layout=LAYOUT.id, uid=bytes(8))
    mat._answers[14] = lambda number, _: mat.reply(number, 14, 0, bytes(6))
    mat._answers[18] = lambda number, _: mat.reply(number, 18, 1, b"there is no command 18")
    said = groundtone("from-mat", "--port", mat.port)
    assert said.code == 2
    assert "groundtone build install" in said.err
