"""The mat alone plays the twin's demo practice: what its buzzer's pin does, as a WAV, judged as the demo's sound is.

The firmware's modules are the board's; MicroPython is the one for computers, tests/chip/test_solo.py has the chip's.
"""

import json
import sys
from pathlib import Path

import beside_host
import pytest
from test_solo import ALONE

from groundtone.cue.rulefile import default_rules
from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import limits_of, packed, unpacked
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import demo_scenario
from groundtone.twin.truth import truth
from groundtone.wire.notes import Note

sys.path.append(str(Path(__file__).parents[1] / "app"))
from sound_in import WANTED, pin_wav, practice_heard, read

PLAYED = (
    ALONE.replace("    def freq(self, f): self.hertz = f\n    def duty_u16(self, d): self.duty = d\n", """
    hertz = duty = 0
    def freq(self, f): self.hertz = f
    def duty_u16(self, d):
        if d != self.duty:
            self.duty = d
            print("pwm", alone.voice_t, self.hertz, d)
""").replace('    print("frame"', """    for k in range(10):
        alone.voice_t = t + 10 * k
        alone.voice.turn(alone.voice_t, alone.cues.sizes)
    0 and print("frame\"""")
)  # fmt: skip


@pytest.fixture(scope="module")
def practice():
    scenario = demo_scenario(3, "left", 62.0)
    frames = list(InProcessMat(scenario).frames(100))
    act = scenario.act
    return scenario, beside_host.Played(
        frames, layout_of(scenario.mat.layout), act.golfer, scenario.mat.uid, scenario.mat, act
    )


def test_the_right_tones_for_every_swing_and_each_is_noted(mpy, tmp_path, practice):
    scenario, session = practice
    given = unpacked(beside_host.sent(session, beside_host.film_for(session)))
    given = type(given)(**{**vars(given), "limits": limits_of(default_rules())[0]})
    (tmp_path / "sent.bin").write_bytes(packed(given))
    (tmp_path / "frames.bin").write_bytes(beside_host.values_of(session))
    strikes = {i: 100 * i - f.strike_offset_us // 100 for i, f in enumerate(session.frames) if f.flags & 1}
    plan = {"uid": session.uid, "layout": session.layout.id, "seqs": [f.seq for f in session.frames],
            "strikes": strikes}  # fmt: skip
    (tmp_path / "frames.json").write_text(json.dumps(plan))
    lines = [line.split() for line in mpy(PLAYED, heap="16m", most_s=300).splitlines()]
    changes = [(int(t) * 1e-4, int(h), int(d) / 65536) for kind, t, h, d in (x for x in lines if x[0] == "pwm")]
    pin_wav(changes, len(session.frames) / 100, tmp_path / "pin.wav")
    known = truth(scenario).swings
    practice_heard(read(tmp_path / "pin.wav"), known)
    notes = bytes.fromhex(next(x[1] for x in lines if x[0] == "notes"))
    noted = [Note.of(notes[k : k + 64]) for k in range(0, len(notes), 64)]
    assert len(noted) == len(known)
    for note, swing in zip(noted, known, strict=True):
        assert note.since_s == pytest.approx(swing.impact_s, abs=0.2)
        assert bool(note.flags >> 5 & 1) == ("toes" in WANTED[swing.style])
        assert bool(note.flags >> 5 & 2) == ("trail side" in WANTED[swing.style])
