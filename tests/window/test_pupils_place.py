"""Pupils: found, new, named afterwards, renamed, erased; and never the verdict or the page of the one before."""

import pytest
from odd_names import PUPIL
from PyQt5.QtCore import Qt

from groundtone.app.window.places.pupil import Checked, Pupil
from groundtone.cue.personal import read_personal
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.twin.scenario import GolferSpec, Session, SwingSpec


@pytest.fixture
def pupils(window, twin, lesson_home, qtbot):
    shell = window(twin())
    place = shell.places["pupils"]
    qtbot.waitUntil(lambda: len(place.lines) == 1)
    return shell, place


def names(home):
    with Library(home) as library:
        return [known.golfer.name for known in library.golfers() if known.golfer.name]


def test_the_list_says_what_was_found_and_kept(pupils):
    _, place = pupils
    said = place.table.shown(0)
    assert said.startswith(PUPIL)
    assert "one lesson so far" in said
    assert place.count.text() == "1 pupil"


def test_a_new_pupil_in_three_actions(pupils, press, qtbot):
    shell, place = pupils
    qtbot.keyClicks(place.search, "Bertil")
    press(shell, "Return")
    assert (shell.shown, shell.common.pupil.name) == ("check", "Bertil")
    assert shell.strip.who.text() == "Bertil"
    shell.go("pupils")
    qtbot.keyClicks(place.search, "bertil")
    place.today.hand.setCurrentIndex(2)
    press(shell, "Return")
    assert [pupil.name for pupil in shell.common.pupils.values()] == ["Bertil"]
    assert (shell.common.pupil.name, shell.common.pupil.hand) == ("Bertil", "left")


def test_one_name_however_it_is_typed(pupils, press, qtbot):
    shell, place = pupils
    place.search.setText(PUPIL.upper())
    press(shell, "Return")
    assert shell.common.pupil.name == PUPIL


def test_the_check_holds_for_one_pupil_alone(pupils, press, qtbot):
    shell, place = pupils
    qtbot.keyClicks(place.search, "Ann")
    press(shell, "Return")
    check = shell.places["check"]
    shell.common.pupil.checked = Checked("ready", 0, shell.common.clock())
    shell.common.changed()
    assert (check.call.word, shell.strip.verdict.text()) == ("ready", "Mat ready for Ann")
    shell.go("pupils")
    qtbot.keyClicks(place.search, "Bo")
    press(shell, "Return")
    assert (check.call.word, check.call.shape) == ("not checked", "dashed")
    assert "not checked for Bo" in shell.strip.rests_on.text()
    shell.go("pupils")
    qtbot.keyClicks(place.search, "Ann")
    press(shell, "Return")
    assert shell.shown == "practise"
    assert shell.strip.verdict.text() == "Mat ready for Ann"


def test_walk_ins_are_each_their_own_and_begin_with_the_defaults(pupils, click):
    shell, _ = pupils
    click(shell, "walk-in")
    first = shell.common.pupil
    first.bands = object()
    shell.go("pupils")
    click(shell, "walk-in")
    assert shell.common.pupil is not first
    assert shell.common.pupil.bands is None
    assert shell.strip.who.text().startswith("Walk-in")


def test_shoe_stance_and_flare_go_where_the_commands_put_them_and_back(pupils, press, qtbot, lesson_home, monkeypatch):
    shell, place = pupils
    place.table.choose(0)
    place._show_card()
    for box, text in zip(place.today.feet, ("291", "380", "10,25"), strict=True):
        box.setText(text)
    press(shell, "Return")
    qtbot.waitUntil(lambda: shell.undo.next == f"shoe and stance of {PUPIL}")
    own = read_personal(PUPIL)
    assert (own.stance_mm, own.flare_deg) == (380, (10, 25))
    with Library(lesson_home) as library:
        assert library.golfer(PUPIL).shoe_mm == 291
    shell.go("pupils")
    qtbot.waitUntil(lambda: place.lines[0].stance_mm == 380)
    place.table.choose(0)
    place._show_card()
    assert [box.text() for box in place.today.feet] == ["291", "380", "10,25"]
    # What is practised with them holds them.
    begun = []
    monkeypatch.setattr(shell.worker, "begin", begun.append)
    shell.go("practise")
    shell.places["practise"].start_or_pause()
    wish = begun[0]._wish
    assert (wish.shoe_mm, wish.stance_mm, wish.flare_deg) == (291, 380, (10, 25))
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: read_personal(PUPIL).stance_mm is None)
    qtbot.waitUntil(lambda: shell.desk.waiting == 0)
    with Library(lesson_home) as library:
        assert library.golfer(PUPIL).shoe_mm is None


@pytest.mark.parametrize(("at", "text"), [(0, "29"), (1, "wide"), (1, "nan"), (2, "10,25,3"), (2, "70")])
def test_feet_that_cannot_be_are_refused_with_a_sentence(pupils, press, at, text):
    shell, place = pupils
    place.table.choose(0)
    place._show_card()
    place.today.feet[at].setText(text)
    press(shell, "Return")
    assert shell.shown == "pupils"
    assert not shell.common.pupil.here
    assert shell.line.text().startswith(("!  A shoe in mm is", "!  A stance in mm is", "!  A flare"))


def test_the_next_pupil_practises_after_three_actions(pupils, twin, profile, press, click, qtbot, lesson_home):
    shell, place = pupils
    act = Session(GolferSpec(), (SwingSpec("good"),) * 3, seed=3)
    shell.worker.choose(twin({"practise": act}))
    shell.common.take(Pupil("Ann"))
    shell.go("practise")
    practise, begun = shell.places["practise"], []
    shell.worker.told.connect(lambda what: begun.append(what) if getattr(what, "state", "") == "running" else None)
    press(shell, "Space")
    qtbot.waitUntil(lambda: len(practise.rows) == 1)
    # One: the next pupil. Two: who it is. Three: begin; by keys, then the same by the mouse.
    press(shell, "N")
    qtbot.keyClicks(place.search, "Bo")
    press(shell, "Ctrl+Return")
    qtbot.waitUntil(lambda: len(begun) == 2 and len(practise.rows) == 1)
    assert (shell.shown, shell.strip.who.text()) == ("practise", "Bo")
    click(shell, "next pupil")
    qtbot.waitUntil(lambda: any(line.name == "Ann" for line in place.lines) and shell.desk.waiting == 0)
    at = next(i for i, line in enumerate(place.shown_lines) if line.name == "Ann")
    qtbot.mouseClick(
        place.table.viewport(), Qt.LeftButton, pos=place.table.visualRect(place.table.model().index(at, 0)).center()
    )
    click(shell, "pupil practise")
    qtbot.waitUntil(lambda: len(begun) == 3 and len(practise.rows) == 1)
    assert shell.strip.who.text() == "Ann"
    qtbot.waitUntil(lambda: set(names(lesson_home)) >= {"Ann", "Bo"})


def test_a_pupil_is_renamed_and_back(pupils, press, qtbot, lesson_home):
    shell, place = pupils
    place.table.choose(0)
    press(shell, "Alt+R")
    assert place.answer.text() == PUPIL
    place.answer.setText("Lene")
    press(shell, "Return")
    qtbot.waitUntil(lambda: names(lesson_home) == ["Lene"])
    qtbot.waitUntil(lambda: shell.undo.next != "")
    press(shell, "Ctrl+Z")
    qtbot.waitUntil(lambda: names(lesson_home) == [PUPIL])


def test_erasing_wants_the_name(pupils, press, qtbot, lesson_home):
    shell, place = pupils
    place.table.choose(0)
    for typed in ("somebody else", PUPIL):
        press(shell, "Alt+E")
        place.answer.setText(typed)
        press(shell, "Return")
    qtbot.waitUntil(lambda: names(lesson_home) == [])
    assert list((lesson_home / "recordings").glob("*.mcap")) == []


def test_two_become_one(pupils, press, qtbot, lesson_home):
    from groundtone.record.session import Golfer

    with Library(lesson_home) as library:
        library.add(Golfer("Anne"))
    shell, place = pupils
    place._list()
    qtbot.waitUntil(lambda: len(place.lines) == 2)
    place.search.setText(PUPIL)
    place.table.choose(0)
    press(shell, "Alt+M")
    place.answer.setText("anne")
    press(shell, "Return")
    qtbot.waitUntil(lambda: names(lesson_home) == ["Anne"])
    (path,) = (lesson_home / "recordings").glob("*.mcap")
    assert open_recording(path).about.golfer.name == "Anne"


def test_a_lesson_moves_to_another_home(pupils, lesson_home, tmp_path, monkeypatch):
    from groundtone.app.window import pupil_jobs
    from groundtone.review.library_reader import open_session, session_lines

    before = open_session(next((lesson_home / "recordings").glob("*.mcap")))
    kept = tmp_path / "all.zip"
    assert pupil_jobs.backed_up(kept) >= 3
    other = tmp_path / "other"
    monkeypatch.setenv("GROUNDTONE_HOME", str(other))
    assert pupil_jobs.restored(kept) == (1, 0)
    assert pupil_jobs.restored(kept) == (0, 1)
    with Library(other) as library:
        (line,) = session_lines(library)
        assert [known.golfer.name for known in library.golfers()] == [PUPIL]
    after = open_session(line.path)
    assert [swing.strike for swing in after.swings] == [swing.strike for swing in before.swings]
    for one, two in zip(after.swings, before.swings, strict=True):
        assert one.values == pytest.approx(two.values, nan_ok=True)
