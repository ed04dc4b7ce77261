"""A lesson with stepping drills from the window to the page: each step is seen, in its block, and on the page."""

from dataclasses import replace
from pathlib import Path

from groundtone.lesson.drills import drill_of, words_of
from groundtone.lesson.wording import words
from groundtone.record.reader import open_recording
from groundtone.review.session_review import review
from groundtone.twin.drill_acts import drill_session
from groundtone.twin.scenario import Check, Doing, GolferSpec, Session, SwingSpec

GOLFER = GolferSpec(mass_kg=78.4)
WALKS, STEPS_IN = (drill_session(name, GOLFER, seed=5, repeats=1).swings[0] for name in ("step-through", "step-in"))
# Who has walked off rocks once again, as docs/practise.md asks: the feet are elsewhere.
LESSON = Session(
    GOLFER, (SwingSpec("trail_hang"), SwingSpec("trail_hang"), WALKS, replace(STEPS_IN, setup_share=0.52), SwingSpec()),
    seed=3, doings=(Doing("walk", 2.0, before=3, rock=True),),
)  # fmt: skip
# What the coach presses after each swing, and which block then begins.
TOLD = (("2", "F", ""), ("2", "F", "D"), ("5", "C", ""), ("5", "C", "E"), ("5", "C", ""))


def test_a_lesson_with_stepping_drills_from_start_to_page(window, twin, profile, press, qtbot, home):
    shell = window(twin({"check": Check(GOLFER, seed=7), "practise": LESSON}))
    pupils = shell.places["pupils"]
    qtbot.waitUntil(lambda: "step-through" in pupils.today.drills)
    qtbot.keyClicks(pupils.search, "Jo")
    pupils.today.club.setText("Eisen 7")
    pupils.today.drill.setCurrentIndex(pupils.today.drills.index("step-through"))
    press(shell, "Return")
    assert shell.shown == "check"
    press(shell, "Space")
    qtbot.waitUntil(lambda: shell.common.pupil.checked is not None)
    press(shell, "F3")
    practise = shell.places["practise"]
    press(shell, "Space")
    for number, (place, contact, block) in enumerate(TOLD, 1):
        qtbot.waitUntil(lambda number=number: len(practise.rows) == number)
        for key in filter(None, (place, contact, block)):
            press(shell, key)
    qtbot.waitUntil(lambda: practise.call.word == "saved")
    press(shell, "F4")
    qtbot.waitUntil(lambda: len(shell.places["review"].lanes) == len(TOLD))
    press(shell, "F5")
    hand_over = shell.places["hand over"]
    qtbot.waitUntil(lambda: not hand_over.sheets[0].empty)
    press(shell, "S")
    qtbot.waitUntil(lambda: bool(hand_over.saved))
    page = next(Path(file) for file in hand_over.saved if file.endswith(".html")).read_text("utf-8")
    # Two fat strikes from the trail side: the page is about that, with the drill that was practised and its own care.
    told = words_of(drill_of("step-through"), words("en"))
    for text in (told.title, told.steps[2], "lay a ramp"):
        assert text in page.replace("&#39;", "'")
    (path,) = (home / "recordings").glob("*.mcap")
    seen = review(open_recording(path))
    assert [each.block.kind for each in seen.swings] == ["baseline", "baseline", "drill", "drill", "test"]
