"""A cue is data: one that is only written into the rules and given a voice is heard, recorded and drawn."""

import tomllib
from dataclasses import replace
from importlib.resources import files
from types import SimpleNamespace

import matplotlib.image
import numpy as np
import pytest
import soundfile

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.cue import rulefile
from groundtone.engine.live import LiveEngine
from groundtone.engine.recording import SessionLog
from groundtone.engine.session import run
from groundtone.errors import RulesError
from groundtone.lesson.lane_picture import draw_lanes
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.reader import open_recording
from groundtone.record.recorder import Recorder
from groundtone.record.session import About, Golfer
from groundtone.review.lane import heard_in, lane_of
from groundtone.tone.commands import Unpacker, do, pack_cues
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.tone.voices import CUES, CueVoice
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec

NAME = "far forward"
RULE = f"""
[rule."{NAME}"]
words = "leaning over the toes (invented)"
priority = 9
full = 0.20

[rule."{NAME}".band.far_forward]
measure = "overall"
when = ["setup"]
high = 0.60
dwell_s = 0.25
"""
# G5, 784 Hz: no other cue is there.
VOICE = CueVoice("G5", (1.0,), (0.0,), (3.0, 4.0), ((0.0, 0.55),), 0.015)
ON_TOES = Scenario(
    mat=MatSpec.reference(),
    act=Session(GolferSpec(setup_heel_toe=0.78), (SwingSpec(),), 2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=4.0),
)


@pytest.fixture
def invented(monkeypatch):
    """The program with one cue more, of which no line of code knows."""
    own = (files("groundtone.cue") / "rules.toml").read_text("utf-8")
    monkeypatch.setattr(rulefile, "_program", lambda: tomllib.loads(own + RULE))
    monkeypatch.setitem(CUES, NAME, VOICE)
    rulefile.default_rules.cache_clear()
    yield rulefile.default_rules().switched(toes=False)
    rulefile.default_rules.cache_clear()


@pytest.fixture
def heard(invented, tmp_path):
    """A session of who stands on the toes: its sound, and its recording."""
    link, layout = TwinLink(ON_TOES, fast=True), layout_of("reference-16x4")
    engine = LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), Stance(LEFT, 400.0), invented)
    output = OfflinePlayer(Synth(), tmp_path / "a.wav")
    recorder = Recorder((tmp_path / "a.mcap").open("xb", buffering=0), About(link.hello, golfer=Golfer("Ann")))
    link.start(100)
    output.start()
    left = iter(range(1500))
    log = SessionLog(recorder, pump=True)
    run(link, engine, output, keep=10, on_frame=lambda item: next(left, None) is None, log=log)
    recorder.close()
    output.close()
    return tmp_path


def test_it_is_heard_recorded_and_drawn(heard):
    recording = open_recording(heard / "a.mcap")
    spans = [(begin, end) for name, begin, end in heard_in(recording) if name == NAME]
    assert spans
    assert {name for name, _, _ in heard_in(recording)} == {NAME}
    begin, end = max(spans, key=lambda span: span[1] - span[0])
    assert end - begin > 1.0
    # In the sound at its own pitch while it is on, and not before.
    x, rate = soundfile.read(heard / "a.wav")
    first = recording.frames.t_s[0]
    on = x[round((begin - first) * rate) : round((end - first) * rate)]
    power = np.abs(np.fft.rfft(on * np.hanning(len(on)))) ** 2
    assert np.fft.rfftfreq(len(on), 1 / rate)[power.argmax()] == pytest.approx(783.99, abs=5)
    # On the lane, beside the ribbon that it watches.
    t_s = recording.frames.t_s
    ribbons = SimpleNamespace(t_s=t_s, share=np.full(len(t_s), 0.5), overall=np.full(len(t_s), 0.65))
    bands = rulefile.default_rules().as_bands()
    lane = lane_of({}, ribbons, bands, heard_in(recording), zero_s=begin, span_s=(1.0, 2.0))
    assert [name for _, _, name in lane.cues] == [NAME] * len(lane.cues)
    assert rulefile.ribbon_of(NAME) == "overall"
    draw_lanes(heard / "with.png", [lane])
    draw_lanes(heard / "without.png", [replace(lane, cues=())])
    with_it, without = (matplotlib.image.imread(heard / f"{name}.png") for name in ("with", "without"))
    changed = np.flatnonzero((with_it != without).any(axis=(0, 2)))
    assert changed.min() > 0.55 * with_it.shape[1]  # at the right, where heels and toes are


def test_the_sounds_process_is_told_of_it(invented):
    told = []
    ((letter, content),) = Unpacker().feed(pack_cues({NAME: 0.7}))
    do(letter, content, SimpleNamespace(set_cues=told.append))
    assert {name: size for name, size in told[0].items() if size} == {NAME: 0.7}


def test_without_a_rule_of_the_programs_own_it_is_none():
    with pytest.raises(RulesError, match="none that sounds: say one of toes, trail side, heels, slide, finish"):
        rulefile.rules_from(tomllib.loads(RULE))
