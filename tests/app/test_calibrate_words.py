"""The words of a bench run: every wish and every remark is a sentence, in letters that exist."""

import math

import pytest

from groundtone.app.big_words import big
from groundtone.app.calibration.check_run import mark_line
from groundtone.calibration.guided.remarks import (
    Ask,
    Now,
    Remark,
    What,
    ask_words,
    cell_words,
    minutes_words,
    remark_words,
)
from groundtone.calibration.guided.worklist import Step


@pytest.mark.parametrize("what", list(What))
def test_every_remark_is_a_sentence_with_its_cells(what):
    text = remark_words(Remark(what, ((3, 5), (4, 5)), 98.0665), 4)
    assert text[0].isupper()
    assert text.endswith(".")
    assert "{" not in text
    if what in (What.SWAPPED, What.LANDED, What.TWO_CELLS):
        assert "ow 3, column 5 (right panel)" in text
        assert "row 4, column 5 (right panel)" in text
    if what in (What.TOO_LIGHT, What.TOO_HEAVY, What.ODD):
        assert "10.0 kg" in text
    if what is What.SWAPPED:
        assert "(rows 3 and 4)" in text


def test_exchanged_columns_are_named_as_such():
    assert "(columns 1 and 2)" in remark_words(Remark(What.SWAPPED, ((3, 1), (3, 2))), 4)


@pytest.mark.parametrize("ask", list(Ask))
def test_every_wish_has_large_letters(ask):
    words, sentence = ask_words(Now(ask, Step((3, 5), 49.0, "12.5 kg"), None), 4)
    assert sentence.endswith(".")
    assert all(len(line) == len(big(words)[0]) for line in big(words))
    # Nothing that has no letter: each sign is four dots wide.
    assert len(big(words)[0]) == 4 * len(words)


def test_words_by_hand():
    assert cell_words((0, 3), 4) == "row 0, column 3 (left panel)"
    assert minutes_words(1) == "about 1 minute"
    assert minutes_words(600) == "about 10 minutes"
    assert mark_line(math.nan) == "········┊········"
    assert mark_line(0.9) == "········┊·······█"
    light = remark_words(Remark(What.TOO_LIGHT, ((0, 0),)), 4)
    assert light.startswith("Row 0, column 0 (left panel) reads only like nothing")
