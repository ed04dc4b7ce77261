"""A session keeps what was measured however it ends, and a tone never hangs: measured to the sample."""

import threading

import numpy as np
import pytest
import soundfile
from patience import PATIENCE_S
from scipy.signal import correlate
from sound_in import RATE, is_lost_sound, part_in, read, stretches
from using import film

from groundtone.app.tones.sounding import GuardedOutput
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.engine import session as sessions
from groundtone.engine.live import LiveEngine
from groundtone.engine.session import run
from groundtone.errors import LostError, ToneError
from groundtone.link.base import Stamped
from groundtone.link.clock import LateWatch
from groundtone.link.serial_link import SerialLink
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import LEFT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth
from groundtone.tone.voices import SIGNALS, signal_wave
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec

HANGS = Scenario(
    mat=MatSpec.reference(),
    act=Session(GolferSpec(), (SwingSpec("trail_hang"),), seed=2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=1.5),
)
ON_TOES = Scenario(
    mat=MatSpec.reference(),
    act=Session(GolferSpec(setup_heel_toe=0.78), (SwingSpec(),), 2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=4.0),
)


def engine():
    layout = layout_of("reference-16x4")
    return LiveEngine(layout, Film(typical_curves(layout.rows, layout.columns)), Stance(LEFT, 400.0))


class Until:
    """A link that plays a scenario as fast as it goes and does something at a time, s."""

    def __init__(self, scenario, at_s, then):
        self._link, self._at_s, self._then = TwinLink(scenario, fast=True), at_s, then
        self._link.start(100)

    def frames(self, patience_s=0.05):
        for item in self._link.frames(patience_s):
            if item is not None and item.device_us >= self._at_s * 1e6:
                self._then()
            yield item


class SlideAndFinish(OfflinePlayer):
    """An offline player that writes down when, in its own time, it was asked for what."""

    def __init__(self, out=None):
        super().__init__(Synth(), out)
        self.seconds, self.said = 0.0, []

    def advance(self, seconds):
        self.seconds += seconds
        super().advance(seconds)

    def signal(self, name):
        self.said.append((name, round(self.seconds, 3)))
        super().signal(name)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """No real time passes where none has to."""
    monkeypatch.setattr(sessions.time, "sleep", lambda seconds: None)


def lost():
    raise LostError("the mat at /dev/x is gone: check its cable and power, and start again")


def ctrl_c():
    raise KeyboardInterrupt


@pytest.mark.parametrize("then", [lost, ctrl_c])
def test_what_was_measured_before_the_end_is_kept(then, tmp_path):
    output = SlideAndFinish(tmp_path / "a.wav")
    output.start()
    shown = []
    told = []
    # The swing's takeaway, impact and end are at 7.2, 8.23 and 9.53 s of this film.
    got = run(Until(HANGS, 10.5, then), engine(), output, keep=100_000, show=shown.append, on_swing=told.append)
    output.close()
    assert (got.lost is not None) == (then is lost)
    (swing,) = got.swings
    assert told == [swing]
    assert [cue for cue, _, _ in swing.heard] == ["trail side"]
    assert len(got.lanes) == 1
    assert len(got.samples) == 1050  # 0 to 10.49 s
    assert got.samples[-1].t_s == pytest.approx(10.49)
    assert 94 <= len(shown) <= 106
    assert [name for name, _ in output.said] == ["ready", "tick"]
    samples = read(tmp_path / "a.wav")
    if then is ctrl_c:
        assert len(samples) / RATE == pytest.approx(10.49, abs=0.001)
    else:
        # 250 ms after the last frame the mat is said to be lost.
        begin, end = stretches(samples)[-1]
        assert begin == pytest.approx(10.49 + 0.25, abs=0.001)
        assert is_lost_sound(samples, begin)
        assert end < len(samples) / RATE


def test_a_swing_under_way_when_the_mat_is_lost_is_no_swing():
    output = OfflinePlayer(Synth())
    output.start()
    got = run(Until(HANGS, 8.295, lost), engine(), output, keep=100_000)
    assert got.swings == []
    assert len(got.samples) == 830


def test_a_link_that_brings_nothing_is_lost_after_three_seconds_of_patience():
    asked = []

    class Silent:
        def frames(self, patience_s=0.05):
            while True:
                asked.append(patience_s)
                yield None

    got = run(Silent(), engine(), OfflinePlayer(Synth()), keep=10)
    assert "has stopped sending: check its cable and power" in str(got.lost)
    assert sum(asked) == pytest.approx(3.0, abs=0.06)


@pytest.mark.parametrize("error", [soundfile.LibsndfileError(2), ToneError("The card has gone."), OSError(28, "full")])
def test_when_the_sound_fails_measuring_goes_on(error, tmp_path, monkeypatch):
    output = GuardedOutput(SlideAndFinish(tmp_path / "a.wav"))
    output.start()
    count = []

    def fail(self, block):
        count.append(len(block))
        if len(count) == 300:
            raise error

    monkeypatch.setattr("groundtone.tone.output.WavWriter.write", fail)
    assert output.trouble is None
    got = run(Until(HANGS, 10.5, ctrl_c), engine(), output, keep=100_000)
    output.close()
    assert len(got.swings) == 1
    assert len(got.samples) == 1050
    assert len(count) == 300  # nothing was tried again
    assert isinstance(output.trouble, ToneError)
    assert str(output.trouble).endswith((": check the disk and the sound card", "The card has gone."))


class Card:
    """A sound card whose time is the frames': it asks for a block of 10 ms where so much of theirs has passed."""

    def __init__(self):
        self._feed, self._owed_s = None, 0.0

    def start(self, feed):
        self._feed = feed

    def stop(self):
        pass

    def close(self):
        pass

    def passed(self, seconds):
        self._owed_s += seconds
        while self._owed_s > 0.0099:
            self._owed_s -= 0.01
            self._feed.send(RATE // 100)


class InStep(Player):
    """The live player on such a card."""

    def __init__(self, out):
        super().__init__(Synth(), out, backend="null")
        self._device.close()
        self._device = self.card = Card()

    def advance(self, seconds):
        self.card.passed(seconds)
        super().advance(seconds)

    def _wait_for_silence(self):
        while not self._synth.silent:
            self.card.passed(0.01)


class WhileNothingComes:
    """A link beside which the card's time goes on while it brings nothing."""

    def __init__(self, link, card):
        self._link, self._card = link, card

    def frames(self, patience_s=0.05):
        for item in self._link.frames(patience_s):
            if item is None:
                self._card.passed(patience_s)
            yield item


@pytest.mark.parametrize("how", ["pulled", "silent"])
def test_a_tone_never_hangs(how, scripted, tmp_path, monkeypatch):
    """From the last frame taken to the last sample of the cue: 250 ms, and one block of 10 ms, in the sound's time."""
    monkeypatch.setattr("groundtone.tone.player._STALL_S", np.inf)
    mat = scripted(rows=16, columns=8, layout="reference-16x4")

    def play():
        mat.started.wait(PATIENCE_S)
        mat.play(film(ON_TOES, 8.0))  # the toes cue sounds from 5.75 s to the takeaway at 9.7 s
        if how == "pulled":
            mat.unplug()

    threading.Thread(target=play, daemon=True).start()
    player = InStep(tmp_path / "a.wav")
    taken = []
    with SerialLink(mat.port) as link:
        link.start(100)
        player.start()
        live = []
        got = run(
            WhileNothingComes(link, player.card), engine(), player, keep=100_000, show=live.append,
            on_frame=lambda item: taken.append(player.rendered),
        )  # fmt: skip
        player.close()
    assert got.lost is not None
    assert "toes" in live[-1].sizes  # the tone was on when the frames stopped
    assert len(taken) > 780  # the last few may go with the cable
    assert player.dropped_blocks == 0
    samples = read(tmp_path / "a.wav")
    # Before: the cue. It is heard in the quarter of a second in which it may still be heard.
    last = taken[-1]
    assert part_in(samples, last / RATE, last / RATE + 0.24, 1240, 1400) > 0.97
    # Then the sound that tells of the loss; what there is besides it is the cue, and ends in time.
    told = np.round(signal_wave(SIGNALS["lost"], RATE) * 32767)
    at = int(np.argmax(correlate(samples, told, "valid", "fft")))
    assert last + 0.250 * RATE <= at <= last + 0.260 * RATE
    assert is_lost_sound(samples, at / RATE)
    rest = samples.copy()
    rest[at : at + told.size] -= told
    end = np.flatnonzero(np.abs(rest) > 1.0)[-1]
    assert last + 0.180 * RATE < end <= last + 0.260 * RATE
    assert samples.size > at + told.size + 0.1 * RATE


def late(ms, age_s):
    return Stamped(None, ms * 1000, 0.0, age_s, 0)


def test_lateness_is_told_once_and_only_where_it_lasts():
    watch = LateWatch()
    short = [watch.sentence_at(late(t, 0.3)) for t in range(0, 500, 10)]
    assert short == [None] * 50
    assert watch.sentence_at(late(500, 0.1)) is None  # in time again
    told = [(t, watch.sentence_at(late(t, 0.3))) for t in range(510, 3000, 10)]
    assert [(t, words) for t, words in told if words] == [
        (1010, "Frames come 0.3 s late: close other programs, or choose a lower frame rate.")
    ]
