"""A link that comes back, and one that grows slow: what is heard, said and recorded."""

import time

import numpy as np
import pytest
from sound_in import RATE, is_lost_sound, part_in, read

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine.live import LiveEngine
from groundtone.engine.recording import recording
from groundtone.engine.session import run
from groundtone.errors import LostError
from groundtone.link.base import Gap
from groundtone.link.following import until_lost
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.record.reader import open_recording
from groundtone.record.session import About
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from studies.disconnects import BLOCK_S, Ear

# The second swing's setup lies over the toes; the whole lasts until about 13 s.
ON_TOES = Scenario(
    mat=MatSpec.reference(),
    act=Session(GolferSpec(setup_heel_toe=0.78), (SwingSpec(),), 2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=6.0),
)
ENDS_S = 9.5


def engine():
    layout = layout_of("reference-16x4")
    return LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), Stance(LEFT, 400.0))


class Played:
    """The twin's frames, with some left out and gaps told."""

    def __init__(self, keep, gaps=()):
        self.link = TwinLink(ON_TOES, fast=True)
        self.link.start(100)
        self._keep, self._gaps = keep, list(gaps)

    def frames(self, patience_s=0.05):
        for item in self.link.frames(patience_s):
            if item is None or item.device_us > ENDS_S * 1e6:
                raise LostError("over")
            while self._gaps and item.device_us >= self._gaps[0][0] * 1e6:
                yield self._gaps.pop(0)[1]
            if self._keep(item):
                yield item


def cue_seconds(samples):
    """Tenths of a second in which the toes cue is the sound."""
    tenths = [(i * 0.1, (i + 1) * 0.1) for i in range(int(len(samples) / RATE * 10))]
    with np.errstate(invalid="ignore"):  # silence has no part in anything
        return [begin for begin, end in tenths if part_in(samples, begin, end, 1150, 1500) > 0.8]


def test_a_gap_is_heard_recorded_and_the_session_goes_on(tmp_path):
    output = OfflinePlayer(Synth(), tmp_path / "tones.wav")
    output.start()
    now = time.monotonic()
    gaps = [(7.0, Gap(True, now, "the mat at X is gone")), (8.2, Gap(False, now, "the mat was found again"))]
    link = Played(lambda item: not 7.0e6 <= item.device_us < 8.2e6, gaps)
    with recording(tmp_path / "session.mcap", About(link.link.hello), threaded=False) as log:
        got = run(link, engine(), output, keep=10_000, log=log)
    output.close()
    assert got.gaps == 1
    events = [entry.table for entry in open_recording(tmp_path / "session.mcap").events]
    assert [(e["what"], e["text"]) for e in events] == [
        ("lost", "the mat at X is gone"), ("found again", "the mat was found again"), ("lost", "over")
    ]  # fmt: skip
    samples = read(tmp_path / "tones.wav")
    before = [t for t in cue_seconds(samples) if t < 6.9]
    assert before  # it sounded when the mat was lost
    # The last frame came 10 ms before the gap; a quarter of a second later the mat is said to be lost.
    assert is_lost_sound(samples, 7.24)
    assert not [t for t in cue_seconds(samples) if 7.24 <= t < 8.2]
    assert [t for t in cue_seconds(samples) if t > 8.5]  # and again when it was back


def test_below_fifty_frames_a_second_it_is_said_and_no_cue_sounds():
    sizes = []

    class Heard(OfflinePlayer):
        def set_cues(self, by_name):
            sizes.append(by_name.get("toes", 0.0))
            super().set_cues(by_name)

    # From 6 s on every fourth frame comes: 25 a second.
    link = Played(lambda item: item.device_us < 6e6 or item.frame.seq % 4 == 0)
    output = Heard(Synth(), None)
    output.start()
    got = run(link, engine(), output, keep=10_000)
    assert [s for s in got.noticed if "25 frames a second come, and below 50 no cue sounds" in s]
    slow = len([1 for sample in got.samples if sample.t_s > 8.0])
    assert slow == pytest.approx(25 * (ENDS_S - 8.0), abs=2)
    assert max(sizes[-slow:]) == 0.0
    assert max(sizes) > 0.2  # it did sound before


def test_only_frames_end_a_loss(monkeypatch):
    now = [100.0]
    monkeypatch.setattr("groundtone.link.following.time.monotonic", lambda: now[0])

    class Link:
        def frames(self, patience_s=0.05):
            yield Gap(True, 100.0, "the mat is gone")
            for _ in range(30):
                now[0] += 1.0
                yield Gap(False, now[0], "found again")
                yield Gap(True, now[0], "has stopped sending")

    items = []
    with pytest.raises(LostError, match="the mat is gone; it was not found again within 20 s"):
        items.extend(until_lost(Link().frames(0.05), 20.0))
    assert now[0] == 121.0
    now[0] = 100.5
    with pytest.raises(LostError, match=r"^the mat is gone$"):
        list(until_lost(Link().frames(0.05), 0.0))


def test_the_ear_of_the_study_hears_a_cue_end_and_one_that_hangs():
    ear = Ear(0.0)
    for i in range(40):
        ear.frame(0.025 * i)
    ear.until(3.0)
    last = ear.sounding[-1]
    assert 0.975 + 0.15 < last <= 0.975 + 0.25 + BLOCK_S + 1e-9
    hanging = Ear(0.0)
    for i in range(80):
        hanging.frame(0.025 * i)
    hanging.until(3.0)
    assert len(np.array([end for end in hanging.sounding if 1.3 < end < 2.0])) > 10
