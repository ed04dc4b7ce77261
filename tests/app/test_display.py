"""The words and bars on the screen, by value, and the screen itself on a pretended terminal."""

import io
import json
import math

import matplotlib.image
import numpy as np
import pytest
from rich.console import Console

from groundtone.app.big_words import big, huge
from groundtone.app.console import say
from groundtone.app.display import Display, bar, cue_words, phase_words, swing_line
from groundtone.app.live.judging import DemoResult, SwingResult
from groundtone.app.live.lanes import draw_session
from groundtone.app.tables import demo_table, heard_words, session_table
from groundtone.cue.bands import Bands
from groundtone.engine.live import Live
from groundtone.engine.session import Lane
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.pressure.feet import Feet
from groundtone.swing.events import Moment, Phase
from groundtone.swing.summary import SwingSummary

NAN = math.nan


def live(phase=Phase.SETUP, toes=0.0, trail=0.0, share=0.5, overall=0.5, force_n=(300.0, 300.0)):
    feet = Feet(force_n, (100.0, 100.0), (70.0, 70.0))
    sizes = {name: size for name, size in (("toes", toes), ("trail side", trail)) if size}
    return Live(1.0, np.zeros((2, 2)), feet, share, overall, (0.5, 0.5), (0.0, 0.0), phase, sizes)


def summary(number=2, heard=(), share_top=0.3, impact=0.36):
    moment = Moment(1.0, "strike sensor", 0.002)
    return SwingSummary(number, 0.51, share_top, impact, 0.52, 0.81, moment, moment, tuple(heard))


@pytest.mark.parametrize(
    ("value", "at"), [(0.0, 0), (1.0, 40), (0.25, 10), (0.74, 30), (-3.0, 0), (7.0, 40), (0.012, 0), (0.013, 1)]
)
def test_a_bar_marks_its_value(value, at):
    line = bar(value, "trail", "lead").plain
    assert line.startswith(" trail ")
    assert line.endswith(" lead")
    middle = line[7:48]
    assert [i for i, c in enumerate(middle) if c == "█"] == [at]
    assert middle[20] == "┊"


def test_a_bar_without_a_value_has_no_mark_and_half_hides_the_middle():
    assert "█" not in bar(NAN, "heels", "toes").plain
    assert bar(0.5, "heels", "toes").plain[27] == "█"
    assert len(bar(0.5, "heels", "toes").plain) == 7 + 41 + 5


def test_the_cue_in_words():
    assert cue_words(live()) == "silence"
    assert cue_words(live(toes=0.15)) == "TOES"
    assert cue_words(live(trail=1.0)) == "TRAIL SIDE"
    assert cue_words(live(toes=0.2, trail=0.3)) == "TOES + TRAIL SIDE"


def test_the_phase_in_words():
    assert phase_words(live(Phase.AWAY, force_n=(0.0, 0.0)), False) == "step on"
    assert phase_words(live(Phase.AWAY), False) == "rock slowly from heels to toes"
    assert phase_words(live(Phase.AWAY), True) == "step on"
    assert [phase_words(live(phase), True) for phase in list(Phase)[1:]] == [
        "take your setup", "setup", "backswing", "downswing", "finish",
    ]  # fmt: skip


def test_a_swing_in_one_line_of_80():
    line = swing_line(summary(heard=[("trail side", -0.104, 1.3)]))
    assert line == "swing 2: lead 51 % setup, 30 % top, 36 % impact; trail side -0.10 to 1.30 s"
    assert len(line) <= 76  # inside the screen's frame
    assert swing_line(summary(3, share_top=NAN)) == "swing 3: lead 51 % setup, - top, 36 % impact; tick only"


def test_a_stretch_of_time_never_reads_minus_nothing():
    assert heard_words([("toes", -0.004, 0.66), ("trail side", 0.0, 1.3)]) == (
        "toes\n0.00 to 0.66\ntrail side\n0.00 to 1.30"
    )
    assert heard_words([]) == "tick only"


@pytest.mark.parametrize(
    ("text", "sentence"), [("the mat", "The mat."), ("Done.", "Done."), ("x: do y", "X: do y."), ("/dev/x", "/dev/x.")]
)
def test_a_failure_becomes_a_sentence(text, sentence):
    assert sentence_of(GroundtoneError(text)) == sentence


def test_a_sentence_is_whole_in_a_pipe_and_broken_between_words_on_a_terminal():
    text = "word [twin] " * 20
    pipe, terminal = io.StringIO(), io.StringIO()
    say(Console(file=pipe, width=80), text)
    assert pipe.getvalue().rstrip("\n").rstrip() == text.rstrip()
    say(Console(file=terminal, width=80, force_terminal=True), text)
    lines = terminal.getvalue().splitlines()
    assert len(lines) > 2
    assert all(len(line) <= 80 and set(line.split()) <= {"word", "[twin]"} for line in lines)


@pytest.mark.parametrize("width", [80, 120])
def test_the_screen_shows_cue_phase_bars_and_swings(width):
    out = io.StringIO()
    console = Console(force_terminal=True, file=out, width=width, height=24, color_system=None)
    with Display(console, "groundtone, mat one") as display:
        display.swing(summary(1))
        display.swing(summary(2, heard=[("trail side", -0.1, 1.3)]))
        display.show(live(Phase.FINISH, trail=0.4, share=0.25, overall=NAN), True)
        display.note("Frames come late.")
    text = out.getvalue()
    assert "groundtone, mat one" in text
    lines = [line.strip("│ ") for line in text.splitlines()]
    assert "FINISH   TRAIL SIDE" in lines
    assert bar(0.25, "trail", "lead").plain.strip() in lines
    assert bar(NAN, "heels", "toes").plain.strip() in lines
    assert "swing 2: lead 51 % setup, 30 % top, 36 % impact; trail side -0.10 to 1.30 s" in lines
    assert "Frames come late." in text


def test_where_there_is_no_terminal_only_swings_are_printed():
    out = io.StringIO()
    with Display(Console(file=out, width=80), "title") as display:
        display.show(live(), True)
        display.swing(summary(1))
    assert out.getvalue() == "swing 1: lead 51 % setup, 30 % top, 36 % impact; tick only\n"


def printed(table, width):
    out = io.StringIO()
    Console(file=out, width=width).print(table)
    return out.getvalue()


def worst_swing(number=10):
    both = (("toes", -0.33, 0.66), ("trail side", -0.08, 1.3))
    pairs = [(0.52, 0.5), (0.3, 0.3), (1.0, 1.0), (0.52, 0.5), (0.99, 0.99)]
    return SwingResult(number, "trail_hang", both, False, *pairs)


def test_the_tables_fit_80_columns_with_the_widest_of_everything():
    result = DemoResult([worst_swing(), worst_swing(11)], 0.0, 0.0, 1, 0, "p")
    for text in (printed(demo_table(result), 80), printed(session_table([summary(123, worst_swing().heard)]), 80)):
        assert "…" not in text
        assert max(len(line.rstrip()) for line in text.splitlines()) <= 78
        assert "-0.33 to 0.66" in text
    rows = printed(demo_table(result), 80).splitlines()
    assert ["10", "hangs", "back", "toes", "NO", "52/50", "30/30", "100/100", "52/50", "99/99"] in [
        row.split() for row in rows
    ]
    lines = [line.rstrip() for line in printed(session_table([summary(1)]), 80).splitlines()]
    assert lines[:2] == ["Share: lead foot, %;", "place: 0 heel edge to 100 toe edge."]
    assert lines[-3].split() == ["1", "tick", "only", "51", "30", "36", "52", "81"]
    assert lines[-2:] == ["* An estimate: pressure alone", "  cannot see the top of the swing."]


def lane(number):
    t_s = np.arange(0.0, 4.0, 0.01)
    return Lane(summary(number, heard=[("toes", 0.0, 0.5)]), 1.0, 1.7, 2.0, t_s, np.full(400, 0.5), np.full(400, 0.5))


@pytest.mark.parametrize(("swings", "across", "down"), [(1, 1, 1), (3, 3, 1), (4, 3, 2), (6, 3, 2), (7, 3, 3)])
def test_at_most_three_lanes_stand_side_by_side(tmp_path, swings, across, down):
    path = tmp_path / "lanes.png"
    draw_session(path, [lane(i) for i in range(swings)], Bands(), [f"Swing {i}" for i in range(swings)])
    height, width = matplotlib.image.imread(path).shape[:2]
    # Inches: time 0.65 and 8.2 a lane across, 0.6 of explanation and 9.0 a row down.
    assert (width, height) == (65 + 820 * across, 60 + 900 * down)


def test_no_swing_makes_no_picture_and_a_folder_in_its_place_a_sentence(tmp_path):
    draw_session(tmp_path / "lanes.png", [], Bands(), [])
    assert not (tmp_path / "lanes.png").exists()
    (tmp_path / "lanes.png").mkdir()
    with pytest.raises(GroundtoneError, match=r"lanes.png cannot be written \(Is a directory\): check the folder"):
        draw_session(tmp_path / "lanes.png", [lane(1)], Bands(), ["Swing 1"])


def test_what_was_not_measured_is_null_in_the_result(tmp_path):
    from groundtone.app.live.demo import write_result

    result = DemoResult([SwingResult(1, "good", (), False, *[(0.5, NAN)] * 5)], NAN, 1.5, 10, 0, "p")
    write_result(tmp_path / "result.json", result)
    content = json.loads((tmp_path / "result.json").read_text(), parse_constant=pytest.fail)
    assert content["swings"][0]["share_top"] == [0.5, None]
    assert (content["share_error"], content["centre_error_mm"]) == (None, 1.5)


def drawn(rows, dot, times):
    return ["".join(mark * dot for mark in row) for row in rows for _ in range(times)]


def test_huge_letters_are_as_large_as_fit():
    rows = ("███ ██  ", " █  █ █ ", " █  █ █ ", " █  █ █ ", "███ █ █ ")
    assert huge("IN", 40, 12) == drawn(rows, 4, 2)
    assert huge("IN", 40, 5) == drawn(rows, 2, 1)
    assert len(huge("hold the finish", 64, 11)) == 11  # two lines of five and one between
    assert huge("hold the finish", 30, 3) == [*big("hold"), *big("the"), *big("finish")]
