"""Every command and every status, over the cable."""

import json
import struct
import time

import pytest
from at_the_line import REQUEST, put, string
from patience import until

HELLO_HEAD = "<B3B8sBBBBHHBB"


def hello(host):
    status, payload = host.ask(1)
    assert status == 0
    fields = struct.unpack_from(HELLO_HEAD, payload)
    texts, at = [], struct.calcsize(HELLO_HEAD)
    while at < len(payload):
        texts.append(payload[at + 1 : at + 1 + payload[at]].decode())
        at += 1 + payload[at]
    return fields, texts


def test_hello_says_who_the_mat_is(mat):
    _, host = mat()
    fields, texts = hello(host)
    assert fields == (1, 0, 2, 0, bytes(range(1, 9)), 16, 8, 14, 16, 1, 200, 0, 0)
    assert texts == ["Raspberry Pi Pico W", "reference-16x4", "groundtone"]


def test_start_and_stop(mat):
    process, host = mat()
    assert host.ask(2, struct.pack("<H", 0))[0] == 3
    status, text = host.ask(2, struct.pack("<H", 201))
    assert (status, text) == (3, b"the rate must lie between 1 and 200 Hz")
    assert host.ask(2, b"\1")[0] == 2
    assert host.ask(3) == (0, bytes(8))  # never started
    assert host.ask(2, struct.pack("<H", 200)) == (0, struct.pack("<I", 5000))
    assert hello(host)[0][11] == 1
    assert host.ask(2, struct.pack("<H", 100))[0] == 5
    assert host.ask(6)[0] == 5
    process.allow(5)
    assert [host.frame().seq for _ in range(5)] == [0, 1, 2, 3, 4]
    assert host.ask(3) == (0, struct.pack("<II", 5, 0))
    assert hello(host)[0][11] == 0
    assert host.ask(2, struct.pack("<H", 100)) == (0, struct.pack("<I", 10000))
    process.allow(1)
    frame = host.frame()
    assert (frame.seq, frame.flags) == (0, 8)


def test_ping_gives_the_token_back_with_the_devices_time(mat):
    began = time.monotonic()
    _, host = mat(fast=False, ticks0=123_000_000)
    times = []
    for token in (b"\xff\xfe\xfd\xfc", b"\0\0\0\0"):
        asked = time.monotonic()
        status, payload = host.ask(4, token)
        assert status == 0
        assert payload[:4] == token
        times.append((asked - began, struct.unpack("<I", payload[4:])[0] - 123_000_000, time.monotonic() - began))
        time.sleep(0.3)
    # What the mat says lies between the question and the answer, however long those take; it began after we did.
    (_, first, answered), (asked, second, over) = times
    assert 0 < first < 1e6 * answered
    assert 1e6 * (asked - answered) - 1_000 <= second - first <= 1e6 * (over - times[0][0]) + 1_000
    assert host.ask(4, b"\0")[0] == 2


def test_identify_and_button_taken(mat):
    _, host = mat()
    assert host.ask(5, b"\2") == (0, b"")
    assert host.ask(5, b"\0") == (0, b"")
    assert host.ask(5)[0] == 2
    assert host.ask(9) == (0, b"")
    assert host.ask(9, b"\1")[0] == 2


def test_self_test_reports_figures_and_no_fault_on_a_good_empty_mat(mat):
    _, host = mat()
    put(host, "settle_us", "200")
    status, payload = host.ask(6)
    findings = [struct.unpack_from("<BBBH", payload, 1 + 5 * i) for i in range(payload[0])]
    assert status == 0
    # The plain world's columns 3 and up read 300 codes and more: not empty, and said so with the highest value.
    high = [(5, c, 0, 4 * (100 * c + 60) + rest) for c in range(8) for rest in (2, 6, 10) if 4 * (100 * c + 60) > 819]
    faults = [f for f in findings if f[0] < 16]
    assert set(faults) <= set(high)
    assert [f[1] for f in faults] == [2, 3, 4, 5, 6, 7]
    figures = {f[:2]: f[3] for f in findings if f[0] >= 16}
    assert findings == faults + [f for f in findings if f[0] >= 16]  # faults first
    # (1000 + 30) ohms over the tap's share of the supply: high 3520 of 2 x 2066, low 452 of 4132.
    assert figures[(22, 0)] == int(1030 * (4132 - 3520) / 3520) == 179
    assert figures[(22, 1)] == int(1055 * 452 / (4132 - 452)) == 129
    assert [figures[(20, c)] for c in range(8)] == pytest.approx([1000] * 8, abs=10)  # 66 codes under the pull-up
    assert figures[(21, 0)] <= 16
    assert figures[(16, 0)] == pytest.approx(130 * 200, abs=600)
    assert findings[-1][:3] == (17, 0, 0)
    assert not any(code in (18, 19) for code, _ in figures)  # nothing has run yet


def test_the_last_runs_lateness_is_a_histogram_in_the_self_test(mat):
    process, host = mat()
    host.ask(2, struct.pack("<H", 100))
    process.allow(20)
    for _ in range(20):
        host.frame()
    host.ask(3)
    _, payload = host.ask(6)
    findings = [struct.unpack_from("<BBBH", payload, 1 + 5 * i) for i in range(payload[0])]
    bins = {a: n for code, a, _, n in findings if code == 18}
    (worst,) = [value for code, _, _, value in findings if code == 19]
    # The fast clock moves 10 us at each look: no start is later than some looks.
    assert sum(bins.values()) == 20
    assert max(bins) <= 2
    assert worst < 50


def test_settings_by_request(mat, tmp_path):
    _, host = mat(settings=tmp_path / "kept")
    assert host.ask(7, string("name")) == (0, string("groundtone"))
    assert put(host, "name", "Übungsplatz") == (0, string("Übungsplatz"))
    assert host.ask(7, string("name")) == (0, string("Übungsplatz"))
    assert hello(host)[1][2] == "Übungsplatz"
    assert json.loads((tmp_path / "kept" / "settings.json").read_text())["name"] == "Übungsplatz"
    assert put(host, "colour", "red") == (4, b"there is no setting colour")
    assert host.ask(7, string("colour"))[0] == 4
    for key, text in (
        ("name", ""), ("name", "x" * 21), ("name", "a\nb"), ("layout", "reference"), ("layout", "big-17x4"),
        ("layout", "wide-16x5"), ("layout", "a b-16x4"), ("oversample", "3"), ("oversample", "0"),
        ("oversample", "2.0"), ("settle_us", "0"), ("settle_us", "201"), ("settle_us", "-5"), ("settle_us", " 5"),
        ("window", "1"), ("window", "33"),
    ):  # fmt: skip
        status, sentence = put(host, key, text)
        assert (status, key.encode() in sentence) == (3, True), (key, text)
    for args in (b"", b"\4nam", string("name") + b"\0", b"\2\xff\xfe"):
        assert host.ask(7, args)[0] == 2
    assert host.ask(8, string("name"))[0] == 2
    assert put(host, "window", "7") == (0, string("7"))
    assert hello(host)[0][8] == 7


def test_what_is_set_while_running_holds_from_the_next_start(mat):
    process, host = mat()
    host.ask(2, struct.pack("<H", 100))
    assert put(host, "oversample", "1")[0] == 0
    assert put(host, "layout", "small-8x2")[0] == 0
    assert hello(host)[0][5:8] == (16, 8, 14)
    assert hello(host)[1][1] == "reference-16x4"
    process.allow(1)
    assert len(host.frame().cells) == 128
    host.ask(3)
    assert hello(host)[0][5:8] == (8, 4, 12)
    assert hello(host)[1][1] == "small-8x2"


def test_a_setting_that_cannot_be_stored_changes_nothing(mat, tmp_path):
    (tmp_path / "settings.new").mkdir()  # the new file cannot be written
    _, host = mat(settings=tmp_path)
    status, sentence = put(host, "name", "other")
    assert (status, sentence[:38]) == (7, b"the settings could not be written ([Er")
    assert host.ask(7, string("name")) == (0, string("groundtone"))
    assert json.loads((tmp_path / "settings.json").read_text()) == {"layout": "reference-16x4"}


def test_unknown_commands_and_strange_versions_are_answered(mat):
    _, host = mat()
    assert host.ask(0)[0] == 1
    assert host.ask(200) == (1, b"there is no command 200")
    host._id = 7
    host.send(bytes((REQUEST + 0x10, 8, 1)))  # wire version 2
    got = until(host._next)
    assert got == bytes((0x14, 8, 1, 1)) + b"this mat speaks wire version 1 only"
    host.send(bytes((0x1F, 1, 2, 3)))  # unknown type: skipped
    assert hello(host)[0][0] == 1


def test_a_handler_that_breaks_answers_and_the_mat_goes_on(mpy):
    code = """
from mat import requests, wire
class Broken:
    running = False
    class link:
        def claimed():
            return ""
    class rows:
        proven = True
    def start(self, rate):
        raise KeyError("inner")
request = wire.message(wire.REQUEST, bytes((9, 2, 100, 0)))
command, status, reply = requests.answer(Broken(), request, len(request))
print(command, status, bytes(reply[:4]), bytes(reply[4:-4]).decode())
"""
    modules = {"machine": "PWRON_RESET = 1\nWDT_RESET = 3\nclass Pin:\n    pass\n"}
    assert mpy(code, modules).strip() == "2 8 b'\\x14\\t\\x02\\x08' the mat failed at this: KeyError('inner',)"


def test_a_button_press_is_one_event(mat):
    process, host = mat()
    hello(host)  # pressed before, it would be held at power-up
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
    process.press()
    process.allow(50)  # half a second of the mat's time
    assert host.event() == (1, "")
    host.pass_until(host.event_us[0] + 400_000)
    process.release()  # not held for long: nothing more
    process.allow(250)
    host.pass_until(host.event_us[0] + 2_500_000)
    assert host.events == []
    process.press()
    process.allow(50)
    assert host.event() == (1, "")


def test_a_button_held_for_long_is_told_once_more(mat):
    process, host = mat()
    hello(host)
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
    process.press()
    process.allow(300)
    assert host.event() == (1, "")
    assert host.event() == (6, "")
    pressed_us, held_us = host.event_us
    assert held_us - pressed_us == pytest.approx(1_500_000 - 30_000, abs=20_000)  # it counts from before the debouncing
    host.pass_until(held_us + 1_000_000)
    process.release()
    process.allow(50)
    host.pass_until(held_us + 1_600_000)
    assert host.events == []
