"""Review of a recorded lesson: list, lanes, cursor, the pair, blocks compared, notes; and files that are damaged."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from odd_names import PUPIL
from PyQt5.QtWidgets import QPushButton
from scipy.special import expit

from groundtone.app.lesson.review import sides_to_compare
from groundtone.app.window import jobs
from groundtone.app.window.places.pupil import Pupil
from groundtone.cue.bands import Bands
from groundtone.cue.personal import bands_for
from groundtone.feel.plan import read_plan
from groundtone.feel.strike_model import USUAL
from groundtone.lesson.compare import compare_blocks
from groundtone.lesson.lesson_measures import LessonMeasure
from groundtone.lesson.pair import Pair, fitted
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.session import Golfer
from groundtone.review import library_reader
from groundtone.review.feel_log import good_paths
from groundtone.review.library_reader import open_session, sessions_of
from groundtone.review.swings import BlockRows, RecordedSession, SwingRow
from groundtone.twin.scenario import SwingSpec
from studies.invented_lesson import Lesson, record


def test_the_newest_session_opens_with_its_swings(review_place, qtbot):
    _, place = review_place
    assert PUPIL in place.sessions.itemText(0)
    rows = [place.swings.shown(row) for row in range(place.swings.rowCount())]
    assert [row.split("; ")[0] for row in rows] == [
        "Test: 0 of 2 outside", "swing 4, test", "swing 3, test", "Baseline: 0 of 2 outside", "swing 2, baseline",
        "swing 1, baseline",
    ]  # fmt: skip
    assert [row.split("; ")[1] for row in rows if row.startswith("swing")] == [
        "toe strike, clean", "centre, clean", "centre, clean", "low, fat",
    ]  # fmt: skip
    assert place.lane.first.number == 1
    qtbot.waitUntil(lambda: place.field.level.max() > 0.3)
    assert place.field.lead == "left"
    # The centre's way over the feet: to the trail foot's side (right), and part of the way back.
    columns = [column for _, column in place.field.path]
    assert len(columns) > 100
    assert max(columns) > columns[0] + 0.5
    assert columns[-1] < max(columns) - 0.5
    takeaway, turn, impact = place.field.marks
    assert takeaway == pytest.approx(place.field.path[0], abs=0.01)
    assert turn[1] > impact[1] > takeaway[1]
    place.choose(-1)
    assert place.field.path == ()


def test_the_cursor_goes_by_frames_and_events(review_place, press):
    shell, place = review_place
    assert place.cursor_words.text().startswith("at impact: lead share")
    at = place.lane.frame_at
    press(shell, "Right")
    press(shell, "Shift+Right")
    assert place.lane.frame_at == at + 11
    press(shell, "Left")
    press(shell, "Shift+Left")
    assert place.lane.frame_at == at
    place.lane.move_to(0)
    words = []
    for _ in range(3):
        press(shell, "Space")
        now = place.lane.first.t_s[place.lane.frame_at]
        words.append(min(place.lane.first.events, key=lambda event: abs(event[0] - now))[1])
    assert words[0] == "takeaway"
    assert words[1] == "turn"


def test_the_pair_is_one_key(review_place, press, qtbot):
    shell, place = review_place
    press(shell, "P")
    qtbot.waitUntil(lambda: place.title.text().startswith("The pair: Swing"))
    assert place.lane.second.number == 1
    assert place.lane.first.number in (2, 3, 4)
    assert place.title.text().startswith(f"The pair: Swing {place.lane.first.number} (")
    assert " and swing 1 (low, fat)" in place.title.text()
    side = place.lane.grab().toImage()
    press(shell, "B")
    assert place.lane.over
    assert place.lane.grab().toImage() != side


@pytest.fixture
def fitting(review_place, press, qtbot, monkeypatch):
    """The pair of the open session, by which the tone would begin at 66 %."""
    shell, place = review_place
    drill = replace(Bands(), trail=0.66)
    found = jobs.PairView(2, 1, "One sentence.", "Fitted.", drill, {"trail": 0.66}, {"trail": Bands().trail})
    monkeypatch.setattr(jobs, "pair", lambda view, bands: found)
    press(shell, "P")
    qtbot.waitUntil(lambda: place.title.text().startswith("The pair"))
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    return shell, place


def test_looking_at_the_pair_writes_nothing(fitting, lesson_home):
    shell, _ = fitting
    assert not (lesson_home / "bands").exists()
    assert shell.common.pupil.bands is None
    assert len(shell.undo) == 0
    assert shell.line.text().startswith("Looking changes nothing.")


def test_the_tone_is_fitted_by_an_act_of_its_own_and_can_be_taken_back(fitting, press, qtbot):
    shell, _ = fitting
    press(shell, "Return")
    qtbot.waitUntil(lambda: "instead of 58 %" in shell.line.text())
    assert shell.line.text() == f"The tone begins at 66 % instead of 58 % for {PUPIL}; Undo puts it back."
    assert bands_for(PUPIL).as_bands().trail == 0.66
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: bands_for(PUPIL).as_bands().trail == Bands().trail)


def test_the_tone_of_a_pupil_who_is_not_here_is_not_fitted(fitting, press, lesson_home, qtbot):
    shell, _ = fitting
    for name in ("", "somebody else"):
        shell.common.pupil.name = name
        press(shell, "Return")
        qtbot.waitUntil(lambda: "choose that pupil first" in shell.line.text())
    shell.common.pupil.name, shell.common.practising = PUPIL, True
    press(shell, "Return")
    assert "end it first" in shell.line.text()
    assert shell.desk.waiting == 0
    assert not (lesson_home / "bands").exists()
    assert shell.common.pupil.bands is None


def test_lanes_that_come_late_leave_the_pair_alone(fitting):
    _, place = fitting
    place._measured(place.view.path, place.lanes)
    assert place.title.text() == "The pair: One sentence."
    assert place.sentences.texts == ("Fitted.",)


def pair(name, clean, poor, unit="%"):
    rows = [SwingRow(1, {name: clean}), SwingRow(2, {name: poor})]
    return Pair(*rows, True, None, "", apart=LessonMeasure(name, "a measure", unit))


def test_the_band_lies_halfway_between_the_two():
    assert fitted(pair("share_impact", 0.80, 0.50), Bands())[0].trail == 0.65
    assert fitted(pair("overall_most_down", 0.55, 0.75), Bands())[0].toes_after == 0.65
    bands, words = fitted(pair("overall_setup", 0.52, 0.90), Bands())
    assert bands.toes_setup == 0.71
    assert words == "For the drill the tone begins at 71 % of a measure, halfway between the two."
    # What all swings say stands before what two of them show.
    told = replace(pair("share_impact", 0.80, 0.50), means=(0.70, 0.62), looked=LessonMeasure("share_impact", "a", "%"))
    assert fitted(told, Bands())[0].trail == 0.66


def test_a_pair_that_says_nothing_of_a_tone_leaves_the_bands():
    assert fitted(pair("tempo", 3.0, 2.0, ""), Bands())[0] == Bands()
    assert fitted(pair("share_impact", 0.60, 0.80), Bands())[0] == Bands()
    assert fitted(Pair(SwingRow(1, {}), SwingRow(2, {}), True, None, ""), Bands())[0] == Bands()


def test_blocks_are_compared(review_place, press, qtbot):
    shell, place = review_place
    press(shell, "K")
    pane = place.compare_pane
    qtbot.waitUntil(lambda: len(pane.sentences.texts) > 3)
    assert pane.sentences.texts[0] == "Before: baseline, 2 swings. After: test, 2 swings."
    assert "Lead share at impact: too few swings to say." in pane.sentences.texts
    press(shell, "K")
    assert place.right.currentIndex() == 0


def test_today_is_compared_with_any_earlier_lesson_as_the_command_does(review_place, press, qtbot, lesson_home):
    shell, place = review_place
    now = place.view
    two = Lesson((SwingSpec("toe_drift"), SwingSpec("good")), ("2f", "5c"))
    january = record(PUPIL, two, started="2026-01-10T10:00:00+00:00")
    record(PUPIL, two, started="2026-02-20T10:00:00+00:00")
    press(shell, "K")
    pane = place.compare_pane
    qtbot.waitUntil(lambda: pane.lesson.count() == 3 and len(pane.sentences.texts) > 3)
    assert [pane.lesson.itemText(i) for i in range(3)] == ["this lesson", "20 Feb 2026", "10 Jan 2026"]
    pane.lesson.setCurrentIndex(2)
    pane.lesson.activated.emit(2)
    today = jobs.day_words(now.started)
    first = f"Before: 10 Jan 2026, baseline, 2 swings. After: {today}, test, 2 swings."
    qtbot.waitUntil(lambda: bool(pane.sentences.texts) and pane.sentences.texts[0] == first)
    (_, before), (_, after) = sides_to_compare(f"{january}:baseline", f"{now.path}:test", None)
    told = [text[:1].upper() + text[1:] for text in compare_blocks(before, after).sentences]
    assert [text for text in pane.sentences.texts if text in told] == told


def test_the_list_names_the_session_that_is_open(review_place, qtbot):
    _, place = review_place
    older = record(PUPIL, Lesson((SwingSpec("good"),), ("5c",)), started="2026-01-10T10:00:00+00:00")
    place._list()
    qtbot.waitUntil(lambda: place.sessions.count() == 2)
    assert place.sessions.currentText().endswith("4 swings (simulated)")
    place.open_path(older)
    assert place.sessions.currentText().startswith("10 Jan 2026")
    qtbot.waitUntil(lambda: place.view is not None)
    place._list()
    qtbot.waitUntil(lambda: place.common.desk.waiting == 0)
    assert place.sessions.currentText().startswith("10 Jan 2026")


def test_a_good_one_is_always_the_golfers_own(lesson_home):
    with Library(lesson_home) as library:
        library.add(Golfer("Other"))
        mine, others = good_paths(library, PUPIL), good_paths(library, "Other")
        struck = [row for seen in sessions_of(library, PUPIL) for row in seen.swings if row.strike.well_struck]
    assert others == {}
    assert [len(paths) for paths in mine.values()] == [len(struck)] == [2]


def test_feel_and_plan_are_looked_at_and_set_by_acts_that_can_be_taken_back(review_place, press, qtbot, monkeypatch):
    shell, place = review_place
    rng = np.random.default_rng(1)
    where = rng.normal(USUAL, (0.06, 0.08, 0.3), (400, 3))
    good = rng.random(400) < expit(1.5 - (((where - USUAL - (0.06, 0, 0)) / (0.08, 0.15, 1.5)) ** 2).sum(1))
    balls = {"iron": ([tuple(row) for row in where], good.tolist())}
    monkeypatch.setattr("groundtone.review.feel_log.struck_balls", lambda library, golfer: balls)
    press(shell, "H")
    pane = place.feel_pane
    qtbot.waitUntil(lambda: len(pane.model.texts) == 3)
    assert "Nothing was asked or guessed yet" in pane.lines.texts[0]
    assert pane.plan_words.text() == "There is no plan yet."
    assert bands_for(PUPIL, club="7 iron").band("toes_after").limit == 0.67
    press(shell, "J")
    qtbot.waitUntil(lambda: "toes_after with irons" in shell.line.text())
    assert bands_for(PUPIL, club="7 iron").band("toes_after").limit > 0.69
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: bands_for(PUPIL, club="7 iron").band("toes_after").limit == 0.67)
    pane.clubs.setText("7 iron, driver, 7 iron")
    press(shell, "D")
    qtbot.waitUntil(lambda: pane.plan_words.text() == "40 of 40 balls are left.")
    assert read_plan(PUPIL).clubs == ("7 iron", "driver")
    assert pane.balls.shown(0).startswith("5")
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: pane.plan_words.text() == "There is no plan yet.")
    # Of another pupil nothing is changed, and nothing while a practice runs.
    pane.clubs.setText(", ".join(f"{n} iron" for n in range(1, 8)))
    press(shell, "D")
    assert shell.line.text() == "!  A plan has 1 to 5 clubs, each once."
    shell.common.practising = True
    press(shell, "J")
    assert "end it first" in shell.line.text()
    shell.common.pupil.name = "somebody else"
    press(shell, "D")
    assert "choose that pupil first" in shell.line.text()
    assert (read_plan(PUPIL), shell.desk.waiting) == (None, 0)


def test_a_note_is_written_into_the_recording(review_place, press, qtbot):
    shell, place = review_place
    press(shell, "N")
    assert place.note.hasFocus()
    qtbot.keyClicks(place.note, "held back, p c b")
    press(shell, "Return")
    qtbot.waitUntil(lambda: shell.line.text() == "Noted: held back, p c b")
    assert open_recording(place.view.path).notes[-1].table["text"] == "held back, p c b"
    assert place.note.text() == ""


def test_the_slow_echo_sounds(review_place, press, qtbot, monkeypatch):
    from groundtone.tone.output import OfflinePlayer

    heard = []
    monkeypatch.setattr(OfflinePlayer, "echo", lambda self, path: heard.append(path))
    shell, place = review_place
    press(shell, "E")
    qtbot.waitUntil(lambda: bool(heard))
    lane = place.lane.first
    assert (heard[0].impact_s, heard[0].lead) == (lane.impact_s, "left")
    assert heard[0].t_s[0] == lane.device_s[0]
    assert heard[0].t_s[-1] <= lane.impact_s + 0.8 + 1e-6


def test_the_window_compares_with_what_is_known_of_the_golfer_as_the_command_does(review_place, monkeypatch):
    from groundtone.lesson import compare

    _, place = review_place
    given = []
    whole = compare.compare_blocks
    monkeypatch.setattr(
        compare, "compare_blocks", lambda *two, **more: given.append(more) or whole(*two, **more)
    )  # fmt: skip
    jobs.compared((place.view.path, 1), (place.view.path, 2))
    assert [len(lesson.blocks) for lesson in given[0]["earlier"]] == [len(place.view.blocks)]


def test_nothing_recorded_yet(window, home, qtbot):
    shell = window()
    shell.go("review")
    place = shell.places["review"]
    qtbot.waitUntil(lambda: place.title.text() == "Nothing has been recorded yet")
    for name in ("pair", "echo", "compare"):
        shell.findChild(QPushButton, name).click()
    assert place.compare_pane.sentences.texts == ("No session is open.",)


def test_progress_over_lessons(review_place, press, qtbot):
    shell, place = review_place
    press(shell, "G")
    pane = place.progress_pane
    qtbot.waitUntil(lambda: pane.which.count() > 3)
    # Nothing was called a fault in these swings: the measures are what there is.
    assert pane.which.itemText(0) == "lead share at setup, %"
    assert pane.curve.points == 1
    assert pane.sure.texts == ("One lesson: nothing to compare yet.",)
    pane.which.setCurrentIndex(pane.which.count() - 1)
    pane.which.activated.emit(pane.which.count() - 1)
    assert pane.sure.texts == ("Inside the centre circle: 2 of 4.",)


def test_a_strike_is_mended_in_review_by_the_same_keys(review_place, press, qtbot):
    shell, place = review_place
    assert place.strike.title.text() == "Swing 1: low, fat. Change it?"
    press(shell, "4")
    qtbot.waitUntil(lambda: place.view.swings[0].strike.field == 6)
    assert shell.line.text() == "Swing 1 told: toe strike, fat."
    assert open_session(place.view.path).swings[0].strike.field == 6
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: open_session(place.view.path).swings[0].strike.field == 2)


def test_another_pupil_closes_the_session_of_the_one_before(review_place, qtbot):
    shell, place = review_place
    shell.common.take(Pupil("somebody else"))
    assert place.view is None
    assert place.lane.first is None
    qtbot.waitUntil(lambda: "somebody else" in place.title.text())


def test_an_empty_session_can_be_deleted(review_place, press, qtbot, lesson_home):
    from groundtone.record.library import Library
    from groundtone.record.recorder import begin

    shell, place = review_place
    about = replace(open_recording(place.view.path).about, session="0" * 32)
    empty = lesson_home / "recordings" / "empty.mcap"
    begin(empty, about).close()
    place.open_path(empty)
    qtbot.waitUntil(lambda: place.title.text() == "There is no swing in this recording")
    press(shell, "Del")
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    assert not empty.exists()
    place.open_path(lesson_home / "recordings" / next((lesson_home / "recordings").glob("*.mcap")).name)
    qtbot.waitUntil(lambda: place.view is not None)
    press(shell, "Del")
    assert shell.line.text() == "!  Only a session without a swing is deleted here."
    with Library(lesson_home) as library:
        assert len(library.recordings_of(PUPIL)) == 1


def test_the_coach_calls_a_described_finding_a_fault_with_one_key(review_place, press, qtbot):
    from groundtone.cue.personal import called_faults

    shell, place = review_place
    described = [f for f in place.view.swings[0].faults if not f.concern]
    assert described
    press(shell, "X")
    qtbot.waitUntil(lambda: "from now on" in shell.line.text() and place.view is not None)
    assert called_faults(PUPIL) == {described[0].code}
    again = [f for f in open_session(place.view.path).swings[0].faults if f.code == described[0].code]
    assert [f.concern for f in again] == [True]
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: called_faults(PUPIL) == frozenset())


def test_blocks_in_turn_are_one_choice_and_say_what_the_tone_does(monkeypatch):
    rng = np.random.default_rng(1)
    blocks, number = [], 0
    for k in range(6):
        values = (0.75, 0.62)[k % 2] + 0.02 * rng.standard_normal(6)
        rows = tuple(SwingRow(number + i + 1, {"overall_most_down": v}) for i, v in enumerate(values))
        number += 6
        role = ("baseline", "drill")[k % 2]
        blocks.append(BlockRows(str(k), rows, role, "7 iron", cues=bool(k % 2), number=k + 1, session="s"))
    path = Path("turn.mcap")
    view = RecordedSession(path, "s", "2026-05-01T10:00:00", "", "", True, tuple(blocks))
    first, second = jobs.lesson_blocks_of(view)[:2]
    assert first == (path, -1, "baseline", "10:00 baseline, 3 blocks, 18 swings")
    assert second == (path, -2, "drill", "10:00 drill, 3 blocks, 18 swings")
    monkeypatch.setattr(library_reader, "open_session", lambda _: view)
    told = jobs.compared(first[:2], second[:2])
    assert any(text.startswith("Furthest towards the toes in the downswing: better (75 % before") for text in told)
    assert not any("better (" in text for text in jobs.compared((path, 1), (path, 2)))
