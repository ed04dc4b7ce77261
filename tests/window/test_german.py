"""The window in German: what a walk through all places shows is not English, and the language is changed by one key."""

import re

from drawn_texts import Spy
from odd_names import PUPIL
from place_states import STATES
from PyQt5.QtWidgets import QApplication, QComboBox, QWidget

from groundtone.app.language import SPOKEN
from groundtone.app.window.keys import KEYS
from groundtone.app.window.main import in_other_words
from groundtone.app.window.places.pupil import Pupil
from groundtone.app.window.views import MatState
from groundtone.lesson.wording import sentences

# The same in both languages: names, units, the trade's own words, formats, and what is a language's own name.
SAME = {
    PUPIL, "7 iron", "driver", "sand wedge", "sand w…", "test", "Test", "Name", "Block", "block",
    "Tempo", "tempo", "Finish", "finish", "Pause", "Tee", "tee", "kg", "lb", "A4", "Letter", "English", "Deutsch",
    "plan", "Plan", "tick", "Tick",
}  # fmt: skip


ENGLISH = r"\b(the|of|is|were|with|not|time|swings?|outside|before|after|from|to)\b"


def shown(shell, spy):
    """Every text on the screen, and what a screen reader and the pointer get."""
    texts = {text.text for text in spy.texts(shell)}
    for widget in shell.findChildren(QWidget):
        texts |= {widget.accessibleName(), widget.accessibleDescription(), widget.toolTip()}
        if isinstance(widget, QComboBox):
            texts |= {widget.itemText(i) for i in range(widget.count())}
    return {text.strip() for text in texts if re.search("[A-Za-z]{2}", text)}


def walk(shell, qtbot, spy):
    """What each place shows, by its name."""
    out = {}
    for state in STATES:
        state(shell, qtbot)
        shell.say("Saved. baseline: 8 swings; 6 of 8 outside, in silence; 2 of 8 strikes inside the centre circle.")
        shell.undo.add("strike of swing 13", lambda: None)
        shell._show_undo()
        QApplication.processEvents()
        out[state.__name__] = shown(shell, spy)
    return out


def ours(text):
    """Words of the program are in it: more than names, numbers, units and keys."""
    rest = text.replace(PUPIL, "").replace("7 iron", "")
    if text in SAME or text.removesuffix("…") in PUPIL or re.fullmatch(r"Alt\+.|Esc|F\d+", text):
        return False
    return bool(re.search("[A-Za-z]{3}", rest))


def test_what_every_place_shows_is_german(shell_in, qtbot, monkeypatch):
    spy = Spy(monkeypatch)
    english = walk(shell_in("en"), qtbot, spy)
    SPOKEN.missed = missed = set()
    german = walk(shell_in("de"), qtbot, spy)
    SPOKEN.missed = None
    left = {f"{place}: {text}" for place in english for text in english[place] & german[place] if ours(text)}
    # Half a sentence is none either.
    told = {re.sub(r"\S*/\S*", "", text) for text in missed.union(*german.values())}
    left |= {text for text in told if re.search(ENGLISH, text)}
    assert not left, "\n".join(sorted(left))
    assert sum(map(len, german.values())) > 300


def test_the_language_is_another_key_and_is_remembered(shell_in, window, qtbot, press):
    first = shell_in("en")
    press(first, "Ctrl+G")
    qtbot.waitUntil(lambda: not first.isVisible())
    assert first.again
    second = window()
    assert (SPOKEN.code, second.rail["practise"].text()) == ("de", "Üben")
    assert second.rail["practise"].accessibleName() == "Üben"


def test_the_language_waits_while_the_mat_is_at_work(shell_in, press):
    here = shell_in("de")
    here._told(MatState("running", "", "simulated mat", simulated=True, mode="practise"))
    press(here, "Ctrl+G")
    assert here.isVisible()
    assert not here.again
    assert here.line.text().startswith("!  Für eine andere Sprache")


def test_a_window_made_anew_has_the_same_pupil_and_mat(shell_in, qtbot):
    before = shell_in("de")
    before.go("review")
    before.other_language()
    qtbot.waitUntil(lambda: not before.isVisible())
    after = in_other_words(before)
    try:
        assert (SPOKEN.code, after.common.pupil, after.shown) == ("en", before.common.pupil, "review")
        assert after.worker.choice is before.worker.choice
    finally:
        after.close()


def test_a_name_is_no_word_of_the_program(shell_in):
    here = shell_in("de")
    here.common.take(Pupil("toes", "left", "heel", "tee"))
    assert here.strip.who.text() == "toes"
    assert here.strip.who.second == "Linkshänder · heel · vom Tee"
    assert here.strip.verdict.text() == "Nicht geprüft für toes"


def test_a_language_that_is_no_more_is_english(window, home):
    from PyQt5.QtCore import QSettings

    home.mkdir(parents=True, exist_ok=True)
    QSettings(str(home / "window.ini"), QSettings.Format.IniFormat).setValue("language", "xx")
    assert window().rail["practise"].text() == "Practise"


def test_every_action_has_german_words():
    say = sentences("de")
    assert [key.words for key in KEYS if say(key.words) is None] == []
