"""What a board says of a mat that is wired wrongly, and when its time comes to start anew."""

import pytest
from emulated import PromptError
from wire_host import PROMPT, Host

EMPTY = [[0.0] * 8] * 16


def faults(host):
    return {found for found in host.self_test() if found[0] < 16}


@pytest.mark.parametrize("floats", [0.0, 1.65])
def test_no_multiplexer_is_named_as_such(mat, floats):
    host = mat(multiplexer=False, floats=floats, noise=1.0)
    host.hello()
    assert faults(host) == {(0, 0, 0)}


def test_a_good_mat_with_noise_has_no_fault(mat):
    host = mat(noise=3.0)
    host.hello()
    assert faults(host) == set()


def test_rows_give_12_ma_and_the_regulator_is_quiet(mat, board):
    mat()
    board.prompt(board.flash)
    # A pad's word is 0x56 after a reset, DRIVE its bits 4 and 5 (data sheet, PADS_BANK0); rows, and REF, GPIO 22.
    said = board.python("""
import machine
for n in range(24):
    machine.mem32[0x4001C004 + 4 * n] = 0x56  # the emulator begins with another word
from mat import app, board
mat = app.App(board.here())
mat.prove_rows()
print([machine.mem32[0x4001C004 + 4 * n] >> 4 & 3 for n in range(24)])
""")
    drives = eval(said)
    assert drives == [3] * 16 + [1] * 6 + [3, 1]
    pins = board.state()["pins"]
    assert pins[:16] == "L" * 16
    assert pins[23] == "H"


@pytest.mark.whole
def test_joined_rows_are_never_driven_and_told_when_they_are_mended(mat, board):
    host = mat(joined=[[3, 4, 2.0], [9, 14, 2.0]])
    assert host.hello().state == 2
    before = board.state()["rows_high"]
    assert faults(host) == {(1, 3, 4), (1, 9, 14)}
    assert board.state()["rows_high"] == before
    board.circuit(joined=[])
    host.listen(2.5e6)
    assert host.events[-1] == (3, "")
    assert host.hello().state == 0


@pytest.mark.whole
def test_exchanged_address_lines_and_a_row_at_the_supply(mat):
    host = mat(exchanged=[1, 2])
    host.hello()
    assert (12, 1, 2) in faults(host)
    host = mat(joined=[[7, "supply", 10.0]])
    assert host.hello().state == 2
    assert faults(host) == {(10, 7, 0)}


def test_a_reset_by_program_is_told_apart_from_the_watchdogs(mat, board):
    host = mat()
    host.hello()
    host.ask(PROMPT)
    board.run(300_000)
    board.type(b"\r\x03import machine; machine.reset()\r")
    board.run(300_000)
    assert [r["reason"] for r in board.restarts] == [2]  # forced, not by its timer
    board.run(5e6, until_connected=True)
    assert Host(board).hello().restart == 2


@pytest.mark.whole
def test_a_program_that_stands_still_is_started_anew_and_says_so(mat, board):
    mat()
    board.prompt(board.flash, cache=False)
    code = """
from mat import app, board
mat = app.App(board.here())
def turn():
    while True:
        pass
mat.turn = turn
mat.run()
"""
    board.paste(code)
    with pytest.raises(PromptError):
        board.wait_for(b"\x04", us=4.5e6)
    assert [r["reason"] for r in board.restarts] == [1]
    board.run(5e6, until_connected=True)
    assert Host(board).hello().restart == 1
