"""Two bays and a head coach on one database: check to page, a cut network, all measured anew, an erasure."""

import datetime
import json
import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import distributed
import pytest
from postgres_server import served

from groundtone.app.language import SPOKEN
from groundtone.app.lesson.academy_page import parts_of
from groundtone.app.live.bay import clock_doubts
from groundtone.app.live.recording import expect_filing, into_library, new_recording_path
from groundtone.link.base import Stamped
from groundtone.record.academy.head_coach import Line
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import Golfer
from groundtone.record.unfiled import unfiled
from groundtone.review.session_review import analysis_version

OLD = Path(__file__).parents[1] / "data" / "v0.1"
ANN, BOB = "Annqz", "Bobqz"


@pytest.fixture(scope="module")
def server():
    with served() as one:
        yield one


class Bay:
    """One computer: its folder, and the commands as somebody there types them."""

    def __init__(self, home, groundtone, monkeypatch):
        self.home, self._run, self._env = home, groundtone, monkeypatch
        shutil.copytree(OLD / "profiles", home / "profiles")

    def __enter__(self):
        self._env.setenv("GROUNDTONE_HOME", str(self.home))
        return self

    def __exit__(self, *_):
        pass

    def says(self, *words):
        ran = self._run(*words)
        assert ran.code == 0, ran.out + ran.err
        return " ".join((ran.out + ran.err).split())

    def lesson(self, name, number):
        """Somebody's two swings, recorded here: the frames of the kept recording under an id of their own."""
        kept = open_recording(next((OLD / "recordings").glob("*.mcap")))
        session = f"{number:032x}"
        about = kept.about.__class__(**{
            **vars(kept.about), "session": session, "golfer": Golfer(name), "lesson": f"lesson {number}",
            "started": f"2026-03-{number:02d}T10:00:00+01:00",
        })  # fmt: skip
        path = new_recording_path(about)
        expect_filing(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        recorder = begin(path, about)
        for i, row in enumerate(kept.frames.raw):
            recorder.frame(Stamped(None, int(kept.frames.device_us[i]), 0.0, 0.0, 0, row.tobytes()))
        recorder.close()
        return path


def traces(folder, *words):
    return [
        path for path in sorted(folder.rglob("*"))
        if path.is_file() and any(word.encode() in path.read_bytes() + path.name.encode() for word in words)
    ]  # fmt: skip


@pytest.mark.long
def test_an_academy(tmp_path, server, groundtone, monkeypatch):
    place, url = tmp_path / "place", server.url()
    place.mkdir()
    one, two = (Bay(tmp_path / name, groundtone, monkeypatch) for name in ("one", "two"))
    for bay, name in ((one, "bay 1"), (two, "bay 2")):
        with bay:
            assert f"this bay is {name}" in bay.says("library", "at", url, "--bay", name, "--recordings", place)
    with one:
        assert "carl is a coach from now on" in one.says("library", "roles", "--give", "carl", "--role", "coach")
        ann = one.lesson(ANN, 1)
        assert into_library(ann) == ""
        assert ANN in one.says("library", "list")
        one.says("page", "--golfer", ANN, "--out", one.home / "pages")
        assert traces(one.home / "pages", ANN)
    with two:
        # The network is cut in a lesson: it goes on, and is filed afterwards, once and in order.
        server.stop()
        bob, late = two.lesson(BOB, 2), two.lesson(ANN, 3)
        for path in (bob, late):
            assert "cannot be reached" in into_library(path)
        assert unfiled(two.home) == [bob, late]
    server.start()
    with one:
        one.says("library", "at", server.url(user="carl"))
        assert "is erased, with 1 recording" in one.says("library", "erase", ANN, "--yes")
        assert "Nothing has changed." in one.says("library", "changes")
    with two:
        said = two.says("library", "list")
        assert "The session of 2026-03-02 10:00 had not been ended in order: it is in the library now." in said
        assert "The session of 2026-03-03 10:00 is not put into the library: whoever is in the recording" in said
        assert BOB in said
        assert unfiled(two.home) == []
        assert (bob.exists(), late.exists()) == (True, False)
        assert two.says("library", "check") == "Library and recordings are whole and agree."
        # Everything is measured anew on a cluster.
        server.sql("UPDATE recordings SET version = 'of old'")
        server.sql("UPDATE measures SET value = value + 0.125 WHERE name = 'share_impact'")
        with distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, silence_logs=50
        ) as cluster:
            for count in ("1 sessions measured", "0 sessions measured"):
                assert count in two.says("library", "remeasure", "--cluster", cluster.scheduler_address)
        assert server.sql("SELECT version FROM recordings") == [analysis_version()]
        changed = two.says("library", "changes")
        assert f"{BOB}, share_impact: 2 of 2 swings differ, by -0.125 on average" in changed
        assert changed.count("differ") == 1
        page = Path(two.says("library", "desk", "--out", tmp_path / "out").split()[-1].rstrip("."))
        text = page.read_text("utf-8")
        for words in (BOB, "bay 2", "67746d0000000007"):
            assert words in text
    for folder in (one.home, two.home, place, tmp_path / "out"):
        assert traces(folder, ANN, "0" * 31 + "1", "0" * 31 + "3") == []
    dump = subprocess.run(["pg_dump", url], check=True, capture_output=True).stdout
    assert ANN.encode() not in dump
    assert BOB.encode() in dump


def test_a_clock_that_is_an_hour_off_is_told():
    off = [clock_doubts(SimpleNamespace(bay="bay 2", clock_off_s=off_s)) for off_s in (3600.0, -3600.0, 30.0)]
    words = "The clock of bay 2 was 60 min {} the library's: set it; the times of what it records are as it told them."
    assert off == [[words.format("ahead of")], [words.format("behind")], []]


def test_the_head_coachs_page_says_what_is_due():
    today = datetime.date(2026, 3, 14)
    lines = [
        Line("pupil", "Ann", "bay 1", 2, 30, "2026-03-01T10:00:00+01:00", "2026-03-13", ""),
        Line("pupil", "Bob", "bay 2", 1, 12, "2026-03-02T10:00:00+01:00", "2026-03-30", ""),
        Line("mat", "m1", "bay 1", 0, 0, "2026-03-13T08:00:00+01:00", "2026-01-01", "ready"),
        Line("mat", "m2", "bay 2", 0, 0, "2026-03-01T08:00:00+01:00", "2026-01-01", "ready"),
        Line("mat", "m3", "bay 3", 0, 0, "2026-03-13T08:00:00+01:00", "2026-01-01", "not fit"),
        Line("mat", "m4", "bay 4", 0, 0, "", "", ""),
    ]
    parts = {title: rows for title, _, rows, _ in parts_of(lines, today)}
    assert parts["Retention tests due"] == [("Ann", "2026-03-13, 1 days ago", "bay 1")]
    assert parts["Mats to look after"] == [
        ("m2", "bay 2", "its last check was 13 days ago"),
        ("m3", "bay 3", "its last check said: not fit"),
        ("m4", "bay 4", "it has no calibration"),
    ]
    assert [row[0] for row in parts["Pupils"]] == ["Ann", "Bob"]
    assert json.dumps(parts)


def test_the_head_coachs_page_is_german_where_german_is_spoken():
    lines = [
        Line("pupil", "Ann", "bay 1", 2, 30, "2026-03-01T10:00:00+01:00", "2026-03-13", ""),
        Line("coach", "", "", 2, 30, "2026-03-01T10:00:00+01:00", "", ""),
        Line("mat", "m3", "bay 3", 0, 0, "2026-03-13T08:00:00+01:00", "2026-01-01", "not fit"),
    ]
    SPOKEN.choose("de")
    try:
        parts = {title: (head, rows, empty) for title, head, rows, empty in parts_of(lines, datetime.date(2026, 3, 14))}
    finally:
        SPOKEN.choose("en")
    assert parts["Fällige Behaltenstests"][:2] == (
        ("Schüler", "Tag", "zuletzt gesehen an"), [("Ann", "2026-03-13, vor 1 Tag", "bay 1")]
    )  # fmt: skip
    assert parts["Matten, nach denen zu sehen ist"][1] == [
        ("m3", "bay 3", "ihre letzte Prüfung sagte: nicht brauchbar")
    ]
    assert parts["Trainer"][1] == [("(niemand genannt)", "2", "30", "2026-03-01")]
    assert parts["Plätze"][2] == "Noch hat kein Platz etwas abgelegt."
