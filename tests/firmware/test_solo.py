"""The mat alone, on MicroPython with the twin's scans: feet found, tones of the right pitch, ticks, the button."""

import json
import math
from dataclasses import replace

import beside_host
import numpy as np
import pytest

from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.rulefile import default_rules
from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import OnMat, limits_of, packed, unpacked
from groundtone.onboard.tables import PLACES, tables_of
from groundtone.tone.ear import note_hz
from groundtone.tone.voices import CUES, SIGNALS
from groundtone.wire.notes import Note, NoteFlag

VOICE = """
import json
from array import array
from mat.alone import voice
class Pwm:
    def __init__(self): self.hertz = self.duty = 0
    def freq(self, f): self.hertz = f
    def duty_u16(self, d): self.duty = d
pwm = Pwm()
said = voice.Voice(pwm)
plan = json.loads(open("plan.json").read())
sizes = array("i", plan["sizes"])
if plan["say"]: said.say(plan["say"], 0)
print(json.dumps([(said.turn(t, sizes), pwm.hertz, pwm.duty)[1:] for t in range(0, plan["until"], 5)]))
print(json.dumps([voice.LEVELS, voice.CUES, voice.SIGNALS]))
"""
ALONE = """
import json
from array import array
from mat.alone import onmat, solo
plan = json.loads(open("frames.json").read())
class Pwm:
    def freq(self, f): self.hertz = f
    def duty_u16(self, d): self.duty = d
class Signals:
    buzzer = Pwm()
    def rest(self, lit): print("rest", lit)
class Clock:
    tenths = 0
class App:
    signals, clock, began_s = Signals(), Clock(), 0
on = onmat.read(bytes.fromhex(plan["uid"]), plan["layout"], "sent.bin")
alone = solo.Solo(App, on)
say = alone.voice.say
def told(name, t):
    print("say", t, name)
    say(name, t)
alone.voice.say = told
file = open("frames.bin", "rb")
values = array("H", bytes(2 * (on.pressure.cells + 2)))
for i, seq in enumerate(plan["seqs"]):
    file.readinto(values)
    t = alone.t = 100 * i
    App.clock.tenths = t // 1000
    if on.pressure.frame(values, seq & 1):
        alone.frame(t, plan["strikes"].get(str(i), -1))
    left, right, overall = alone.prints.look()
    print("frame", t, alone.follow.phase, left, right, overall, alone.weight, *alone.cues.sizes)
    if alone.book.waiting and alone.quiet(): alone.book.write()
alone.book.write()
from mat.alone import notes
print("notes", notes.read(0, 9)[1].hex())
"""


IDLE = """
import sys
import time
from array import array
from mat import kinds, tally
from mat.alone import idle, onmat, solo
class Pwm:
    def freq(self, f): pass
    def duty_u16(self, d): pass
class Thing:
    def __init__(self, **is_):
        for name, value in is_.items(): setattr(self, name, value)
    def __getattr__(self, name): return lambda *_: None
class Signals:
    buzzer = Pwm()
    def rest(self, lit): pass
    def beep(self, ms): print("beep", ms)
class App:
    clock, rows, signals = Thing(tenths=0), Thing(proven=True), Signals()
    pace, strike, scan, link = Thing(), Thing(), Thing(sharp=False), Thing(usb=Thing(line=7))
    began_s = row_us = 0
    layout, running, brisk, listens = "{layout}", False, None, False
    tally = array("I", [0] * 60)
    def stop(self): self.running = False
idle.board.uid = lambda: bytes.fromhex("{uid}")
app, at = App(), idle.Idle()
def look(tenths, note=""):
    app.clock.tenths = tenths
    at.turn(app)
    print(tenths, app.running, at.solo is not None, note)
look(19)
look(20)
if at.solo:
    alone = at.solo
    for t, held in ((10, False), (3000, False), (20000, True), (30000, False)):
        alone.t = t
        alone.press(held)
        print("press", alone.voice.loud, alone.ended)
    at.asked(app)
    left = [name for name in sys.modules if "solo" in name or "forces" in name]
    print("asked", app.running, at.solo, app.scan.line, left)
    look(319)
    look(320)
    app.idle = at
    for standing in (1, 0):
        alone = at.solo
        alone.t, alone._standing, alone._unheard = (1 << 28) + 1, standing, 99
        app.tally = [0] * 60  # ticks are longer here than on a board
        app.tally[tally.DUE] = time.ticks_add(time.ticks_us(), 500000)
        alone.turn()
        print("long", app.running, at.solo is not None)
    app.tally = array("I", [0] * 60)
    look(620)
    print("anew", at.solo.t < 1 << 20, at.solo.voice.loud)
"""


def voice(mpy, folder, until, sizes=(0, 0, 0), say=""):
    """Pitch and duty every half millisecond; the levels, cues and signals of the firmware."""
    (folder / "plan.json").write_text(json.dumps({"until": until, "sizes": sizes, "say": say}))
    played, made = (json.loads(line) for line in mpy(VOICE).splitlines())
    return np.array(played), made


def test_pitches_beats_and_levels_are_the_programs(mpy, tmp_path):
    _, (levels, cues, signals) = voice(mpy, tmp_path, 10)
    wanted = [0.0] + [math.asin(10 ** (db / 20)) / math.pi for db in (-18, -15, -12, -9, -6, -3, 0)]
    assert np.abs(np.array(levels) / 65536 - wanted).max() < 1e-4
    for (hertz, slow, quick, pulses), name in zip(cues, ("toes", "trail side", "heels"), strict=True):
        own = CUES[name]
        assert abs(hertz - note_hz(own.note)) < 0.6
        assert [round(10_000 / b) for b in own.beats_per_s] == [slow, quick]
        assert pulses == [round(1000 * x) for begin, length in own.pulses for x in (begin, begin + length)]
    for name in ("ready", "tick", "rock", "unseen"):
        notes = [x for note, s in SIGNALS[name].notes for x in (round(note_hz(note)), round(10_000 * s))]
        assert signals[name] == notes


@pytest.mark.parametrize(("cue", "size"), [(0, 3000), (1, 16384), (2, 9000)])
def test_a_cue_has_its_rhythm_and_starts_softly(mpy, tmp_path, cue, size):
    sizes = [0, 0, 0]
    sizes[cue] = size
    played, (_, cues, _) = voice(mpy, tmp_path, 60_000, sizes)
    hertz, slow, quick, pulses = cues[cue]
    on = played[:, 1] > 0
    assert set(played[on, 0]) == {hertz}
    beat_s = (slow + (quick - slow) * size / 16384) * 1e-4
    rises = np.flatnonzero(np.diff(on.astype(int)) > 0) * 5e-4
    assert len(rises) == pytest.approx(6.0 / beat_s * len(pulses) / 2, abs=2)
    assert on.mean() == pytest.approx(0.55, abs=0.03)
    steps = np.diff(played[:, 1])
    assert abs(steps).max() <= 0.2 * played[:, 1].max()  # half a millisecond: softer than a click


def test_two_cues_are_heard_in_turn(mpy, tmp_path):
    played, (_, cues, _) = voice(mpy, tmp_path, 60_000, [9000, 9000, 0])
    part = [(played[played[:, 1] > 0, 0] == cues[k][0]).mean() for k in (0, 1)]
    assert min(part) > 0.2
    assert sum(part) == 1.0


def test_a_signal_comes_before_cues_and_ends(mpy, tmp_path):
    played, (_, _, signals) = voice(mpy, tmp_path, 20_000, [9000, 0, 0], say="ready")
    on = played[:, 1] > 0
    length = sum(signals["ready"][1::2]) // 5
    first = played[: length + 60]
    assert set(first[first[:, 1] > 0, 0]) == set(signals["ready"][::2])
    assert set(played[length + 80 :][on[length + 80 :], 0]) == {1319}


@pytest.fixture(scope="module")
def session():
    """A golfer of the twin who steps on, rocks, and swings twice."""
    return beside_host.played("ordinary", 4, 4200, swings=2)


def test_a_golfer_is_followed_from_the_rock_to_the_tick(mpy, tmp_path, session):
    film = beside_host.film_for(session)
    (tmp_path / "sent.bin").write_bytes(beside_host.sent(session, film))
    (tmp_path / "frames.bin").write_bytes(beside_host.values_of(session))
    strikes = {i: 100 * i - f.strike_offset_us // 100 for i, f in enumerate(session.frames) if f.flags & 1}
    plan = {"uid": session.uid, "layout": session.layout.id, "seqs": [f.seq for f in session.frames],
            "strikes": strikes}  # fmt: skip
    (tmp_path / "frames.json").write_text(json.dumps(plan))
    lines = [line.split() for line in mpy(ALONE).splitlines()]
    said = [(int(t), name) for kind, t, name in (x for x in lines if x[0] == "say")]
    frames = np.array([x[1:] for x in lines if x[0] == "frame"], float)
    assert [name for _, name in said].count("tick") == 2
    assert said[0][1] == "ready"
    host = beside_host.engine(session, film)
    at = (frames[:, 3] != 0x1FFFFFFF) & np.isfinite(host)
    assert at.sum() > 1000
    assert np.quantile(np.abs(frames[at, 4] / 16384 - host[at]), 0.95) < 0.03
    # Both swings have been noted, with what the mat saw then.
    raw = bytes.fromhex(next(x[1] for x in lines if x[0] == "notes"))
    noted = [Note.of(raw[k : k + 64]) for k in range(0, len(raw), 64)]
    assert [note.number for note in noted] == [0, 1]
    ticks = [t * 1e-4 for t, name in said if name == "tick"]
    for note, tick_s, strike in zip(noted, ticks, strikes.values(), strict=True):
        assert note.has(NoteFlag.STRUCK)
        assert note.since_s == pytest.approx(strike * 1e-4, abs=0.11)
        assert 0.5 < tick_s - note.since_s < 3.0
        impact = round(strike / 100)
        assert note.overall[2] == pytest.approx(frames[impact, 4] / 16384, abs=0.02)
        assert 0.15 < note.turn_s < 0.6 < note.takeaway_s < 2.0
        assert note.share[1] < note.share[0] < note.share[2] <= note.share[3] + 0.02
        assert note.weight_n == pytest.approx(frames[impact, 5] / 32, abs=0.2)
        assert note.force[0] < 1.0 < note.force[1]


UID = "0011223344556677"


def given(uid=UID):
    """Typical curves and the program's own rules for a mat of the reference layout."""
    layout = layout_of("reference-16x4")
    force = tables_of(typical_curves(16, 8), 1000.0).force
    limits, _ = limits_of(default_rules())
    return packed(OnMat(uid, layout.id, 0, 200, 0.0, 0, 140.0, 140.0, 100.0, 1000.0, 1000.0, (1 << PLACES,) * 8,
                        limits, force, row_pitch_mm=layout.row_pitch_mm))  # fmt: skip


def idle(mpy):
    script = IDLE.replace("{uid}", UID).replace("{layout}", "reference-16x4")
    return [line.split() for line in mpy(script, {"machine": "class Pin:\n    pass\n"}).splitlines()]


def test_it_begins_when_nobody_asks_and_ends_when_somebody_does(mpy, tmp_path):
    (tmp_path / "onmat.bin").write_bytes(given())
    assert idle(mpy) == [
        ["19", "False", "False"], ["20", "True", "True"],
        ["press", "7", "False"], ["press", "5", "False"], ["press", "5", "True"], ["press", "5", "False"],
        ["asked", "False", "None", "7", "[]"],
        ["319", "False", "False"], ["320", "True", "True"],
        # After hours it begins anew, but not under somebody's feet.
        ["long", "True", "True"], ["long", "False", "False"],
        ["620", "True", "True"], ["anew", "True", "5"],
    ]  # fmt: skip


def test_a_cue_that_is_full_at_once_divides_by_nothing(mpy):
    book = default_rules()
    book = replace(book, rules=tuple(replace(rule, full=1e-5) for rule in book.rules))
    assert {limit.full for limit in limits_of(book)[0]} == {1}
    script = "from mat.alone import cues\nbook = cues.table([[0, 0, 1] + [0] * 9])\nprint(book[-1], len(book))"
    assert mpy(script) == "1 60\n"


def test_who_stands_there_at_power_up_is_asked_to_step_off(mpy, tmp_path):
    (tmp_path / "onmat.bin").write_bytes(given())
    script = IDLE.replace("{uid}", UID).replace("{layout}", "reference-16x4")
    looks = "app.rows.proven = False\nfor tenths in (19, 20, 60, 119, 120): look(tenths)\n"
    looks += "app.rows.proven = True\nlook(130)\n"
    script = script[: script.index("look(19)")] + looks
    lines = mpy(script, {"machine": "class Pin:\n    pass\n"}).splitlines()
    assert lines == [
        "19 False False ", "beep 600", "20 False False ", "60 False False ", "119 False False ", "beep 600",
        "120 False False ", "130 True True ",
    ]  # fmt: skip


def beginning(mpy, tmp_path, code):
    """What a mat prints that is given something and whose app has not been asked for anything."""
    (tmp_path / "onmat.bin").write_bytes(given())
    script = IDLE.replace("{uid}", UID).replace("{layout}", "reference-16x4")
    return mpy(script[: script.index("look(19)")] + code, {"machine": "class Pin:\n    pass\n"}).splitlines()


def test_the_columns_are_measured_once_the_rows_are_apart(mpy, tmp_path):
    # At power-up somebody stood there, and nothing could be measured.
    lines = beginning(
        mpy,
        tmp_path,
        """
kinds.measure = lambda app: print("measured", app.rows.proven, at.solo)
app.rows.proven = False
look(20)
app.rows.proven = True
look(30)
look(31)
""",
    )
    assert lines == ["beep 600", "20 False False ", "measured True None", "30 True True ", "31 True True "]


def test_memory_that_runs_out_while_it_begins_leaves_the_scan_as_it_was(mpy, tmp_path):
    lines = beginning(
        mpy,
        tmp_path,
        """
def full(*_): raise MemoryError
solo.Solo = full
app.scan.line, app.seldom = 7, 3
look(20)
print(app.scan.line, app.seldom)
""",
    )
    assert lines == ["beep 1500", "20 False False ", "7 3"]


SCANS = """
look(20)
alone, told = at.solo, []
app.strike = Thing(peak=3000, offset_us=0)
heard = at_ms = known = 0
app.scan = Thing(frame=lambda *_: 0, hear=lambda start: heard)
alone._pressure = Thing(frame=lambda *_: known, state=[0] * 20)
alone.time = lambda now: 10 * at_ms
alone.frame = lambda t, strike: told.append((t, strike))
app.values, app.tally = None, [0] * 60
tally.started = lambda *_: 0
def scan(ms, is_known, is_heard=0):
    global at_ms, known, heard
    at_ms, known, heard = ms, is_known, is_heard
    alone._scan(app, app.tally)
"""


def test_a_strike_in_a_scan_that_tells_nothing_is_the_next_ones(mpy, tmp_path):
    lines = beginning(
        mpy,
        tmp_path,
        SCANS
        + """
scan(5, 1)
scan(10, 0, 1)
scan(15, 0)
scan(20, 1)
scan(25, 1)
scan(30, 0, 1)
scan(300, 0)
scan(305, 1)
print(told)
""",
    )
    # What is older than a tone may be is told no more.
    assert lines[1] == "[(50, -1), (200, 100), (250, -1), (3050, -1)]"


def test_a_tone_ends_where_scans_tell_nothing_for_as_long_as_the_computer_waits(mpy, tmp_path):
    lines = beginning(
        mpy,
        tmp_path,
        SCANS
        + """
scan(100, 1)
alone.cues.sizes[1] = 9000
for ms in (105, 350, 355):
    scan(ms, 0)
    print(ms, list(alone.cues.sizes))
""",
    )
    assert lines[1:] == ["105 [0, 9000, 0]", "350 [0, 9000, 0]", "355 [0, 0, 0]"]


def test_with_nothing_on_it_or_another_mats_it_stays_silent(mpy, tmp_path):
    assert idle(mpy)[-1] == ["20", "False", "False"]
    (tmp_path / "onmat.bin").write_bytes(given("0011223344556678"))
    assert idle(mpy)[1:] == [["beep", "1500"], ["20", "False", "False"]]


def test_the_pitch_of_the_rows_travels():
    assert unpacked(given()).row_pitch_mm == pytest.approx(layout_of("reference-16x4").row_pitch_mm, abs=0.13)
