"""Practise on the simulated mat: what sounds is seen, strikes told by key and click, blocks, the next pupil."""

import numpy as np
import pytest
from PyQt5.QtCore import Qt

from groundtone.app.window.modes.practise import Practise, PupilWish, asking
from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.views import LiveSwing, PractiseView
from groundtone.lesson.outside import Outside
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.review.library_reader import open_session
from groundtone.review.strikes import Contact, Line, Strike
from groundtone.twin.scenario import GolferSpec, Session, SwingSpec
from studies.screenshots import play

ACT = Session(GolferSpec(), (SwingSpec("trail_hang"), SwingSpec("good")), seed=3)


@pytest.fixture
def practise(window, twin, profile):
    def make(act=ACT, name=""):
        shell = window(twin({"practise": act}))
        if name:
            shell.common.take(Pupil(name))
        shell.go("practise")
        return shell, shell.places["practise"]

    return make


def paths(home):
    return sorted((home / "recordings").glob("*.mcap"))


def told(place):
    return [row.strike.told for row in place.rows]


def test_a_practice_is_seen_told_and_saved(practise, press, qtbot, home):
    shell, place = practise(name="Rot & Weiß")
    sounded, drawn = set(), 0
    shell.worker.picture.connect(lambda view: sounded.update(k for k, v in view.sizes.items() if v > 0))
    press(shell, "D")
    press(shell, "Space")
    # A right-handed club has its toe on the left, and the keys lie as on the face: 6 is its heel.
    for number, keys in ((1, ("6", "F")), (2, ("5",))):
        qtbot.waitUntil(lambda number=number: len(place.rows) == number)
        drawn = max(drawn, place.lane.points)
        for key in keys:
            press(shell, key)
            qtbot.waitUntil(lambda key=key: place.strike.strike.told)
    qtbot.waitUntil(lambda: shell.state.state == "there")
    assert place.strike.title.text() == "Swing 2: centre. Change it?"
    assert "trail side" in sounded
    assert drawn > 100
    (path,) = paths(home)
    recording = open_recording(path)
    assert [b.kind for b in recording.blocks] == ["drill"]
    assert recording.about.golfer.name == "Rot & Weiß"
    fields = [(s.table["field"], s.table["contact"]) for s in recording.strikes]
    assert fields[-1] == (5, None)
    assert (4, "fat") in fields
    assert shell.line.text().startswith("Saved. drill: 2 swings; 1 of 2 outside")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    with Library(home) as library:
        (known,) = [k for k in library.golfers() if k.golfer.name]
    assert (known.golfer.name, known.swings, known.strikes) == ("Rot & Weiß", 2, 2)
    # Told and mended after the end, by the same keys.
    press(shell, "Down")
    assert place.strike.number == 1
    press(shell, "S")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    assert open_session(path).swings[0].strike == Strike(4, contact=Contact.SHANK)
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    assert open_session(path).swings[0].strike == Strike(4, contact=Contact.FAT)


def test_space_pauses_and_end_ends(practise, press, qtbot, home):
    shell, place = practise(name="Ann")
    press(shell, "Space")
    qtbot.waitUntil(lambda: place.running)
    assert place.go.text() == "Pause"
    press(shell, "Space")
    assert place.go.text() == "Go on"
    qtbot.waitUntil(lambda: len(place.rows) == 1)
    press(shell, "Space")
    assert place.go.text() == "Pause"
    press(shell, "End")
    qtbot.waitUntil(lambda: shell.state.state == "there")
    (path,) = paths(home)
    assert [e.table["what"] for e in open_recording(path).events if e.table["what"] in ("paused", "goes on")] == [
        "paused", "goes on",
    ]  # fmt: skip


def test_nothing_hit_is_not_saved(practise, press, qtbot, home):
    shell, place = practise(Session(GolferSpec(), (SwingSpec("good"),), seed=3))
    press(shell, "Space")
    qtbot.waitUntil(lambda: place.running)
    press(shell, "End")
    qtbot.waitUntil(lambda: shell.line.text() == "!  No swing was seen: nothing was saved.")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    assert paths(home) == []


def view(**changed):
    row = np.array([0.0])
    base = dict(  # noqa: C408
        t_s=row, share=row + 0.6, overall=row + 0.5, trail_out=row, toes_out=row, words="play", sentence="",
        state="play", sizes={}, block="drill", counts=(1, 0, 0, 0), told="", strike=Strike(), swings=1,
        limits=(0.58, 0.67), block_words="Drill", block_swings=1, outside=Outside("", 1, 1),
        rows=(LiveSwing(1, "drill", Strike(), ("toes",)),), blocks=(("drill", Outside("", 1, 1)),),
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
    assert (place.call.over, place.call.word, place.call.shape) == ("Pressure", "to the toes + hold the finish", "up")
    assert place.call.warm


def test_a_told_toe_looks_unlike_the_cue_toes(standing):
    _, place, _ = standing
    place.picture(view(sizes={"toes": 0.4}, words="toes"))
    cue = (place.call.over, place.call.word, place.call.shape, place.call.warm)
    place.picture(view(words="toe", told="toe", strike=Strike(6)))
    strike = (place.call.over, place.call.word, place.call.shape, place.call.warm)
    assert cue == ("Pressure", "to the toes", "up", True)
    assert strike == ("Strike", "toe strike", "", False)


def test_a_silent_block_is_silent_for_the_pupil_not_for_the_coach(standing):
    shell, place, _ = standing
    place.picture(view(block="baseline", block_words="Baseline, silent", sizes={"toes": 0.4}, silent=True))
    assert (place.call.word, place.call.sentence, place.call.filled) == ("to the toes", "Silent for the pupil.", False)
    assert place.toes.state == "out, silent for the pupil"
    assert place.counts.text() == "1 of 1 outside"
    shell._block = None
    shell._picture(view(block="baseline", block_words="Baseline, silent", silent=True))
    assert shell.strip.count.text() == "1 of 8 swings, 1 of 1 outside"


def test_strikes_are_told_by_click_key_and_button_and_taken_back(standing, press, click, qtbot):
    shell, place, sent = standing
    qtbot.mouseClick(place.strike.pad, Qt.LeftButton, pos=place.strike.pad.middle(6).toPoint())
    press(shell, "9")
    click(place, "practise topped")
    press(shell, "S")
    assert sent == [
        ("strike set", (1, Strike(6))), ("strike set", (1, Strike(7))),
        ("strike set", (1, Strike(contact=Contact.TOPPED))), ("strike set", (1, Strike(contact=Contact.SHANK))),
    ]  # fmt: skip
    assert shell.undo_button.toolTip() == "Undo: strike of swing 1"
    mended = Strike(9, contact=Contact.SHANK)
    place.picture(view(rows=(LiveSwing(1, "drill", mended, ()),), counts=(1, 1, 1, 0)))
    assert place.strike.pad.field == 9
    assert place.strike.pad.accessibleDescription() == "high toe, shank"
    assert place.strike.title.text() == "Swing 1: high toe strike, shank. Change it?"
    assert place.counts.text() == "0 of 1 outside, 0 of 1 in the circle"
    press(shell, "U")
    press(shell, "Ctrl+Z")
    assert sent[-2:] == [("strike set", (1, Strike())), ("strike set", (1, mended))]


def test_the_pad_is_the_face_as_its_golfer_sees_it(standing):
    _, place, _ = standing
    pad = place.strike.pad
    assert pad.middle(6).x() < pad.middle(5).x() < pad.middle(4).x()
    place.strike.show_swing(1, Strike(), "left")
    assert pad.middle(6).x() > pad.middle(5).x() > pad.middle(4).x()
    assert pad.middle(9).y() < pad.middle(6).y()


def test_the_pad_is_told_by_the_arrows_too(standing, press):
    shell, place, sent = standing
    place.strike.pad.setFocus()
    for key in ("Left", "Up", "Return"):
        press(shell, key)
    assert sent == [("strike set", (1, Strike(9)))]


def test_where_the_ball_started_and_its_distance_are_told_by_key(standing, press):
    shell, place, sent = standing
    for key in "LMRA140":
        press(shell, key)
        if sent:
            place.picture(view(rows=(LiveSwing(1, "drill", sent[-1][1][1], ("toes",)),)))
    assert [value[1].line for _, value in sent[:3]] == [Line.LEFT, Line.STRAIGHT, Line.RIGHT]
    assert [value[1].distance_m for _, value in sent[3:]] == [1.0, 14.0, 140.0]


def test_a_click_beside_the_face_tells_nothing(standing, qtbot):
    _, place, sent = standing
    qtbot.mouseClick(place.strike.pad, Qt.LeftButton, pos=place.strike.pad.box().bottomRight().toPoint() * 1.05)
    assert sent == []


def test_a_guess_is_told_by_click_and_key_and_nothing_else_is_told_meanwhile(standing, press, qtbot):
    shell, place, sent = standing
    press(shell, "+")
    assert sent == [("guess", "lead")]
    sent.clear()
    place.picture(view(block="guess", guessing=True, rows=(), words="where was it?"))
    assert place.guess.isVisible()
    assert not place.strike.isVisible()
    for name in ("toes", "heels"):
        qtbot.mouseClick(place.guess.buttons[name], Qt.LeftButton)
    for key in ("6", "4", "5", "-", "+", "T", "9"):
        press(shell, key)
    places = ["toes", "heels", "toes", "heels", "middle", "trail", "lead"]
    assert sent == [("guess", each) for each in places]
    assert shell.line.text() == "!  First where the pupil says it was; then the strike can be told."
    sent.clear()
    place.picture(view(block="guess"))
    press(shell, "6")
    assert sent == [("strike set", (1, Strike(field=4)))]


def test_a_remote_tells_what_it_tells_at_home(standing, press):
    shell, _, sent = standing
    for key in ("PgDown", "PgUp"):
        press(shell, key)
    assert sent == [("strike", "next"), ("strike", "back")]


def test_the_coachs_click_is_a_guess_and_the_swing_comes_after_it(practise, twin, profile, home):
    """The very mode that the worker runs, frame by frame, so that the click falls into the time for it."""
    _, place = practise()
    swings = (SwingSpec("good", down_heel_toe=0.62, impact_share=0.78), SwingSpec("good"))
    act = Session(GolferSpec(mass_kg=78.4), swings, seed=8, setup_s=12.0, rock_s=4.0)
    seen, mode = [], Practise(PupilWish("Jo", block="guess"))

    def until(place, newest):
        if newest is None:
            return False
        if newest.guessing and not seen:
            mode.command("guess", "toes")
        if newest.guessing or seen:
            seen.append((newest.guessing, len(newest.rows), newest.counts[0], newest.swings, newest.words))
        return bool(seen) and not newest.guessing

    play(mode, twin({"practise": act}), place, until)
    assert set(seen[:-1]) == {(True, 0, 0, 0, "where was it?")}
    assert seen[-1][:4] == (False, 1, 1, 1)
    (path,) = paths(home)
    (entry,) = [each.table for each in open_recording(path).feel]
    assert (entry["what"], entry["place"], entry["how"]) == ("guess", "toes", "click")


def test_low_and_high_are_asked_for_from_the_window(standing, press):
    shell, _, sent = standing
    press(shell, "H")
    assert sent[-1] == ("block", ("purpose height", "", "", "", "heel-toe", "random"))
    kind, asks = asking("purpose height", "side", "random")
    assert (kind, asks.lines, sorted(set(asks.asked()))) == ("purpose", "height", ["high", "low"])


def test_line_and_order_are_chosen_in_the_window_and_the_good_one_is_asked_for(standing, press):
    shell, place, sent = standing
    for key in ("Y", "X", "P", "Y", "G", "V"):
        press(shell, key)
    assert [what for name, what in sent if name == "block"] == [
        ("purpose", "", "", "", "side", "blocked"), ("guess", "", "", "", "both", "blocked"),
    ]  # fmt: skip
    assert sent[-1] == ("strike", "e")
    assert (place.line_button.text(), place.order_button.text()) == ("Asked: both lines", "Order: blocked")
    asked = asking("purpose", "side", "blocked")[1].asked()
    assert asked == ["trail"] * 5 + ["middle"] * 5 + ["lead"] * 5


def test_no_swing_no_strike(practise, press):
    shell, _ = practise()
    press(shell, "5")
    assert shell.line.text() == "!  There is no swing yet to tell a strike of."


def test_blocks_begin_with_a_key(standing, press):
    shell, place, sent = standing
    shell.common.pupil.club = "7 iron"
    for key in ("B", "D", "E"):
        press(shell, key)
    assert [(name, value[0], value[1]) for name, value in sent] == [
        ("block", kind, "7 iron") for kind in ("baseline", "drill", "test")
    ]
    assert [kind for kind, to in place.blocks.items() if to.isChecked()] == ["test"]
    assert shell.line.text() == "A block begins: test, silent for the pupil."


def test_the_next_pupil_saves_the_one_before(practise, press, qtbot, home):
    shell, place = practise(name="first")
    press(shell, "Space")
    qtbot.waitUntil(lambda: len(place.rows) == 1)
    press(shell, "N")
    assert shell.shown == "pupils"
    qtbot.waitUntil(lambda: shell.state.state == "there")
    assert open_recording(paths(home)[0]).about.golfer.name == "first"
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    with Library(home) as library:
        assert [k.golfer.name for k in library.golfers()] == ["first"]


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
    press(shell, "Space")
    qtbot.waitUntil(lambda: shell.state.state == "lost")
    assert place.call.word == "mat lost"
    assert shell.strip.verdict.text() == "Mat lost"
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
    press(shell, "Space")
    qtbot.waitUntil(lambda: len(place.rows) == 2)
    assert "lost" not in states
