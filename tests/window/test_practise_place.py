"""Practise on the simulated mat: what sounds is seen, strikes told by key and click, blocks, the next pupil."""

import numpy as np
import pytest
from PyQt5.QtCore import Qt

from groundtone.app.window.views import PractiseView
from groundtone.lesson.drills import all_drills
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.review.strikes import Contact, Strike
from groundtone.twin.scenario import GolferSpec, Session, SwingSpec

ACT = Session(GolferSpec(), (SwingSpec("trail_hang"), SwingSpec("good")), seed=3)


@pytest.fixture
def practise(window, twin, profile):
    def make(act=ACT):
        shell = window(twin({"practise": act}))
        shell.go("practise")
        return shell, shell.places["practise"]

    return make


def paths(home):
    return sorted((home / "recordings").glob("*.mcap"))


def test_a_practice_is_seen_told_and_saved(practise, press, click, qtbot, home):
    shell, place = practise()
    sounded, told, drawn = set(), [], 0
    shell.worker.picture.connect(lambda view: sounded.update(k for k, v in view.sizes.items() if v > 0))
    qtbot.keyClicks(place.form.name, "Rot & Weiß")
    place.setFocus()
    press(shell, "D")
    press(shell, "Space")
    for number, keys in ((1, ("4", "F")), (2, ("5",))):
        qtbot.waitUntil(lambda number=number: place._swings == number)
        drawn = max(drawn, place.lane.points)
        for key in keys:
            press(shell, key)
        qtbot.waitUntil(lambda: place._strike.told)
        told.append(place.told_words.text())
    qtbot.waitUntil(lambda: shell.state.state == "there")
    assert told[1] == "swing 2: centre"
    assert "trail side" in sounded
    assert drawn > 100
    (path,) = paths(home)
    recording = open_recording(path)
    assert [b.kind for b in recording.blocks] == ["drill"]
    assert recording.about.golfer.name == "Rot & Weiß"
    fields = [(s.table["field"], s.table["contact"]) for s in recording.strikes]
    assert fields == [(4, "fat"), (5, None)]
    assert shell.line.text().startswith("Saved.")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    with Library(home) as library:
        (known,) = [k for k in library.golfers() if k.golfer.name]
    assert (known.golfer.name, known.swings, known.strikes) == ("Rot & Weiß", 2, 2)


def test_a_drill_is_chosen_for_the_drill_block(practise, qtbot):
    _, place = practise()
    qtbot.waitUntil(lambda: place.form.drill.count() > 3)
    place.form.drill.setCurrentIndex(2)
    assert place.take_form().drill == place.form.drills[2]
    assert place.form.drills[2] in all_drills()


def view(**changed):
    row = np.array([0.0])
    base = dict(  # noqa: C408
        t_s=row, share=row + 0.6, overall=row + 0.5, trail_out=row, toes_out=row, words="play", sentence="",
        state="play", sizes={}, block="drill", counts=(1, 1, 0, 0), told="", strike=Strike(), swings=1,
        limits=(0.58, 0.67),
    )  # fmt: skip
    return PractiseView(**{**base, **changed})


@pytest.fixture
def standing(practise):
    """The place as if a practice ran, with what it would send to the worker."""
    shell, place = practise()
    place.began("practise")
    place.picture(view())
    sent = []
    shell.worker.command = lambda *what: sent.append(what)
    return shell, place, sent


def test_cues_are_words_and_shapes(standing):
    _, place, _ = standing
    silent = place.toes.grab().toImage()
    place.picture(view(sizes={"toes": 0.4, "finish": 0.2}, words="toes", t_s=np.array([0.1])))
    assert (place.toes.size_now, place.trail.size_now) == (0.4, 0.0)
    assert place.toes.grab().toImage() != silent
    assert place.words.text() == "toes"
    assert place.others.text() == "hold the finish"


def test_strikes_are_told_by_click_key_and_button_and_taken_back(standing, press, click, qtbot):
    shell, place, sent = standing
    qtbot.mouseClick(place.pad, Qt.LeftButton, pos=place.pad.middle(6).toPoint())
    press(shell, "9")
    click(place, "strike topped")
    press(shell, "S")
    assert sent == [("strike", "6"), ("strike", "9"), ("strike", "o"), ("strike", "s")]
    assert shell.undo_button.text().endswith("Undo  [Ctrl+Z]: strike of swing 1")
    place.picture(view(strike=Strike(9, contact=Contact.SHANK), told="high toe, shank", counts=(1, 1, 1, 0)))
    assert place.pad.field == 9
    assert place.told_words.text() == "swing 1: high toe, shank"
    assert place.counts.text() == "1 swing, 1 with the tick alone, 0 of 1 strikes in the centre circle"
    press(shell, "U")
    press(shell, "Ctrl+Z")
    assert sent[-2:] == [("strike", "u"), ("strike set", (1, Strike(9, contact=Contact.SHANK)))]


def test_where_the_ball_started_and_its_distance_are_told_by_key(standing, press):
    shell, _, sent = standing
    for key in "LMRA140":
        press(shell, key)
    assert [value for what, value in sent if what == "strike"] == ["l", "m", "r", "d", "1", "4", "0"]


def test_a_click_beside_the_face_tells_nothing(standing, qtbot):
    _, place, sent = standing
    qtbot.mouseClick(place.pad, Qt.LeftButton, pos=place.pad.box().bottomRight().toPoint() * 1.05)
    assert sent == []


def test_no_swing_no_strike(practise, press):
    shell, place = practise()
    place.setFocus()
    press(shell, "5")
    assert shell.line.text() == "!  There is no swing yet to tell a strike of."


def test_blocks_begin_with_a_key(standing, press):
    shell, place, sent = standing
    for key in ("B", "D", "E"):
        press(shell, key)
    assert sent == [("block", "baseline"), ("block", "drill"), ("block", "test")]
    assert [kind for kind, to in place.blocks.items() if to.isChecked()] == ["test"]
    assert shell.line.text() == "A block begins: test, in silence."


def test_letters_typed_into_a_name_are_no_keys(practise, qtbot):
    shell, place = practise()
    place.form.name.setFocus()
    qtbot.keyClicks(place.form.name, "ben 5d")
    assert place.form.name.text() == "ben 5d"
    assert shell.state.state == "none"


def test_the_next_pupil_with_one_key_and_back(practise, press, qtbot):
    shell, place = practise()
    qtbot.keyClicks(place.form.name, "first")
    place.form.hand.setCurrentIndex(2)
    place.take_form()
    place.setFocus()
    press(shell, "N")
    assert place.form.name.text() == ""
    assert place.words.text() == "Who is next?"
    assert place.form.name.hasFocus()
    qtbot.keyClicks(place.form.name, "second")
    press(shell, "Return")
    assert (shell.shown, shell.common.pupil.name, shell.common.pupil.hand) == ("check", "second", "")
    press(shell, "Ctrl+Z")
    assert (shell.common.pupil.name, shell.common.pupil.hand) == ("first", "left")


def test_the_next_pupil_saves_the_one_before(practise, press, click, qtbot, home):
    shell, place = practise()
    place.form.name.setText("first")
    place.setFocus()
    press(shell, "Space")
    qtbot.waitUntil(lambda: place._swings == 1)
    press(shell, "N")
    qtbot.waitUntil(lambda: shell.state.state == "there")
    assert open_recording(paths(home)[0]).about.golfer.name == "first"
    assert place.form.name.text() == ""
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    with Library(home) as library:
        assert [k.golfer.name for k in library.golfers()] == ["first"]
    # In a line that is being written Ctrl+Z belongs to the writing.
    click(shell, "undo")
    assert place.form.name.text() == "first"


def test_the_mat_is_lost_in_a_practice_and_nothing_of_it(practise, press, qtbot, home, monkeypatch):
    from groundtone.errors import LostError
    from groundtone.link.twin_link import TwinLink

    whole = TwinLink.frames

    def cut(self, patience_s=0.05):
        for i, item in enumerate(whole(self, patience_s)):
            if i == 900:
                raise LostError("the line to the mat is gone: plug it in again")
            yield item

    monkeypatch.setattr(TwinLink, "frames", cut)
    shell, place = practise()
    place.setFocus()
    press(shell, "Space")
    qtbot.waitUntil(lambda: shell.state.state == "lost")
    assert place.words.text() == "mat lost"
    assert len(open_recording(paths(home)[0]).frames) == 900


def test_a_busy_machine_is_no_lost_mat(practise, press, qtbot, monkeypatch):
    from groundtone.link.twin_link import TwinLink

    whole = TwinLink.frames

    def held_up(self, patience_s=0.05):
        for i, item in enumerate(whole(self, patience_s)):
            if i == 900:
                # Ten seconds in which the machine had no time for the simulated mat.
                yield from [None] * round(10.0 / patience_s)
            yield item

    monkeypatch.setattr(TwinLink, "frames", held_up)
    shell, place = practise()
    states = []
    shell.worker.told.connect(lambda what: states.append(getattr(what, "state", "")))
    place.setFocus()
    press(shell, "Space")
    qtbot.waitUntil(lambda: place._swings == 2)
    assert "lost" not in states
