"""What happens to a mat in a day: power, prompt, noise on the line, a host that stalls, settings, the watchdog."""

import itertools

import flashes
import pytest
from wire_host import GET, PROMPT, Host, text


def test_hello_of_a_board_that_was_never_set(mat, board):
    hello = mat(flash=flashes.flash(board, layout=None)).hello()
    assert (hello.state, hello.restart, hello.layout, hello.window) == (0, 0, "starter-10x3", 16)
    assert hello.shape == (10, 6)
    assert board.state()["dog"]


def test_control_characters_and_rubbish_do_not_disturb_a_run(mat, board):
    host = mat()
    host.hello()
    host.start(100)
    host.follow(40_000)
    board.type(b"\x03" * 5 + b"\r\n\x04\x04\x01\0")
    frames = host.follow(100_000)
    assert [b.seq - a.seq for a, b in itertools.pairwise(frames)] == [1] * (len(frames) - 1)
    assert len(frames) >= 9
    assert host.stop()[1] == 0
    board.type(b"\7" * 3000 + b"\0")
    assert host.hello().state == 0


def test_a_button_held_at_power_up_leaves_the_prompt_without_a_watchdog(mat, board):
    mat()
    board.do("button", down=True)
    board.power(board.flash)
    board.run(3e6)
    board.type(b"\r\x02print(6*7)\r")
    assert b"42\r\n" in board.wait_for(b"42\r\n", us=1e6)
    assert not board.state()["dog"]
    assert board.state()["pins"][:16].count("H") == 0


def test_the_prompt_is_given_back_and_nobody_is_reset_there(mat, board):
    host = mat()
    host.hello()
    assert host.ask(PROMPT) == (0, b"")
    board.run(6e6)
    assert board.restarts == []
    state = board.state()
    assert not state["dog"]
    assert not set(state["pins"][:16]) & {"H", "L"}


@pytest.mark.whole
def test_settings_outlive_the_power(mat, board):
    host = mat()
    host.hello()
    for key, value in (("name", "Übungsmatte"), ("window", 8), ("oversample", 4), ("layout", "reference-12x3")):
        host.put(key, value)
    board.power(keep=True)
    again = Host(board)
    hello = again.hello()
    assert (hello.name, hello.window, hello.layout, hello.shape) == ("Übungsmatte", 8, "reference-12x3", (12, 6))
    assert again.ask(GET, text("oversample")) == (0, text("4"))


@pytest.mark.whole
def test_an_idle_mat_is_not_reset_and_a_stalled_host_does_no_harm(mat, board):
    host = mat()
    host.hello()
    board.run(9e6)
    assert board.restarts == []
    host.start(200)
    host.follow(100_000)
    board.do("reads", on=False)
    board.run(7e6)
    assert board.restarts == []
    board.do("reads", on=True)
    host.listen(50_000)
    host.ack(0, everything=1)
    assert len(host.follow(200_000)) >= 30
    assert host.bad <= 1  # the frame that the stall cut in two
    assert host.stop()[0] > 0
