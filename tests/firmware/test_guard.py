"""Watchdog and restart reasons: what a mat says of its last end, and that nobody is reset at the prompt."""

import json

import pytest
from patience import until

MACHINE = """
import sys
PWRON_RESET = 1
WDT_RESET = 3
log = []
class Pin:
    pass
class WDT:
    def __init__(self, timeout):
        log.append(("start", timeout))
    def feed(self):
        log.append("feed")
def reset_cause():
    return {cause}
mem32 = {memory}
"""
PRETEND = """
import machine
from mat import board, guard
class Chip:
    platform = "rp2"
    class implementation:
        _machine = "{machine}"
board.sys = Chip
"""
REASON = "from mat import guard\nprint(guard.reason())\nprint(guard.reason())"


SCRATCH = 0x4005800C  # the RP2040's first word that outlives a reset


def reason(mpy, cause, code=REASON, memory="{}"):
    return mpy(code, {"machine": MACHINE.replace("{cause}", str(cause)).replace("{memory}", memory)}).splitlines()


@pytest.mark.parametrize(("cause", "code"), [(1, 0), (2, 2), (5, 2)])
def test_the_chips_own_cause(mpy, cause, code):
    assert reason(mpy, cause) == [f"({code}, '')"] * 2


def test_a_reset_by_program_is_no_watchdogs_though_the_port_makes_it_one(mpy):
    watching = f"import machine\nfrom mat import guard\ndog = guard.Watchdog()\ndog.start()\n{REASON}"
    memory = f"{{{SCRATCH}: 0}}"
    assert reason(mpy, 3, memory=memory) == ["(2, '')"] * 2
    assert reason(mpy, 3, watching, memory) == ["(1, '')", "(2, '')"]  # asked once, and answered once
    assert reason(mpy, 3, watching.replace("dog.start()", "dog.start()\ndog.stop()"), memory) == ["(2, '')"] * 2


@pytest.mark.parametrize(("chip_reset", "code"), [(1 << 16, 0), (1 << 17, 3)])
def test_a_brown_out_is_told_where_the_chip_tells_it(mpy, chip_reset, code):
    memory = f"{{0x4010002C: {chip_reset}}}"
    program = PRETEND.replace("{machine}", "Pico 2 W with RP2350") + "print(guard.reason())"
    assert reason(mpy, 1, program, memory) == [f"({code}, '')"]


@pytest.mark.parametrize(
    ("error", "code"),
    [("RuntimeError('maximum recursion depth exceeded')", 4), ("KeyError('x')", 5), ("MemoryError()", 5)],
)
def test_a_fault_is_left_behind_and_told_once(mpy, error, code):
    code_ = f"from mat import guard\nguard.leave({error})\n" + REASON
    first, second = reason(mpy, 3, code_, f"{{{SCRATCH}: 0}}")
    assert first[1:].startswith(f"{code}, ")
    assert "The mat started again after a fault in its program: " in first
    assert error.split("(")[0] in first
    assert second == "(2, '')"


def test_the_watchdog_is_fed_only_once_it_was_started_and_its_own_register_is_cleared(mpy):
    program = (
        PRETEND.replace("{machine}", "Pico W with RP2040")
        + """
import machine
dog = guard.Watchdog()
dog.feed(); dog.stop()
dog.start(); dog.feed(); dog.feed(); dog.stop(); dog.feed()
print(machine.log, machine.mem32)
"""
    )
    assert reason(mpy, 1, program) == ["[('start', 4000), 'feed', 'feed'] " + str({SCRATCH: 0, 0x40058000: 0})]


def test_a_mat_that_fails_inside_tells_so_when_it_is_back(mat, tmp_path):
    (tmp_path / "failing.py").write_text("""
from mat import app, board
mat = app.App(board.here())
def turn():
    raise ValueError("broken")
mat.turn = turn
mat.run()
""")
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "settings.json").write_text(json.dumps({"layout": "reference-16x4"}))
    process, _ = mat(settings=kept, program=tmp_path / "failing.py")
    until((kept / "fault.txt").exists)
    assert (kept / "fault.txt").read_text() == "program\nValueError('broken',)"
    process.close()
    _, host = mat(settings=kept)
    status, payload = host.ask(1)
    assert (status, payload[21]) == (0, 5)
    assert host.event() == (5, "The mat started again after a fault in its program: ValueError('broken',)")
    assert not (kept / "fault.txt").exists()


def test_a_mat_that_is_reset_by_program_says_so_and_not_that_it_stood_still(mat, tmp_path):
    (tmp_path / "restarting.py").write_text("""
import machine
from mat import app, board
mat = app.App(board.here())
def turn():
    mat.ended = True
mat.turn = turn
mat.run()
machine.reset()
""")
    kept = tmp_path / "kept"
    kept.mkdir()
    process, _ = mat(settings=kept, program=tmp_path / "restarting.py")
    assert until(lambda: (kept / "rebooted.txt").exists(), process.log)
    process.close()
    _, host = mat(settings=kept)
    assert host.ask(1)[1][21] == 2
