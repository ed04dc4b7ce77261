"""The live engine with what came later: answers, bands that tighten, sounds kept for after impact. Forces by script."""

from dataclasses import replace

import numpy as np
import pytest
from scripted import HANG, Golfer, changed, curve

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.rulebook import Tighten
from groundtone.cue.rulefile import default_rules
from groundtone.engine.live import LiveEngine
from groundtone.mat.layout import layout_of
from groundtone.pressure.feet import Stance

LAYOUT = layout_of("reference-16x4")
RATE_HZ = 100
BODY_N = 700.0


def tilted(position):
    """Loads of a sole from 20 to 300 mm, all of it loaded, tilted so that the centre lies at a position; sum 1."""
    u = LAYOUT.u_mm
    low, high = -0.2, 0.2
    for _ in range(40):
        tilt = (low + high) / 2
        load = np.where((u > 20) & (u < 300), np.exp(tilt * (u - 160)), 0.0)
        low, high = (tilt, high) if (load @ u) / load.sum() < 20 + 280 * position else (low, tilt)
    return load / load.sum()


PLACES = np.arange(0.10, 0.92, 0.02)
SOLES = np.stack([tilted(place) for place in PLACES])


def spread(force, position):
    """A foot's force over the rows of its panel, with its centre at a position of the sole."""
    k = int(np.clip((position - PLACES[0]) / 0.02, 0, len(PLACES) - 2))
    part = (position - PLACES[k]) / 0.02
    return force * ((1 - part) * SOLES[k] + part * SOLES[k + 1])


def frame(share, lead, trail, weights=1.0):
    force = np.zeros((LAYOUT.rows, LAYOUT.columns))
    width = LAYOUT.columns_per_panel
    for foot, (part, place) in enumerate(((share, lead), (1 - share, trail))):
        force[:, foot * width : (foot + 1) * width] = spread(part * BODY_N * weights, place)[:, None] / width
    return force


def pushed(strike_s):
    """Whoever strikes a ball pushes: body weights around the strike."""
    return ((0.0, 1.0), (strike_s - 0.5, 1.0), (strike_s - 0.25, 0.9), (strike_s - 0.05, 1.15), (strike_s + 0.15, 1.0))


class Player:
    """An engine, the time, and all that came out."""

    def __init__(self, book=None):
        self.engine = LiveEngine(LAYOUT, Film(typical_curves(LAYOUT.rows, LAYOUT.columns)), Stance(0), book)
        self.t_s, self.out = 0.0, []
        self.hold(np.zeros((LAYOUT.rows, LAYOUT.columns)), 0.5)
        for place in (0.45, 0.2, 0.3, 0.45, 0.6, 0.75, 0.85, 0.75, 0.6, 0.45, 0.3, 0.2, 0.3, 0.45):
            self.hold(frame(0.5, place, place), 0.3)

    def hold(self, force, seconds, strike=False):
        for _ in range(round(seconds * RATE_HZ)):
            self.t_s += 1 / RATE_HZ
            self.out.append(self.engine.take_forces(self.t_s, force, self.t_s if strike else None))

    def swing(self, golfer):
        """One of the scripted golfers' swings; the ball is struck when the script says so. Gives its frames."""
        begin = len(self.out)
        struck = False
        for i in range(round((golfer.share[-1][0] + 0.2) * RATE_HZ)):  # the tick comes 1.27 s after impact
            at = i / RATE_HZ
            now = not struck and any(at >= s for s in golfer.strikes)
            struck = struck or now
            push = curve(pushed(golfer.strikes[0]), at) if golfer.strikes else 1.0
            loads = (curve(k, at) for k in (golfer.share, golfer.lead, golfer.trail))
            self.hold(frame(*loads, push), 0.01, strike=now)
        return self.out[begin:]

    def tap(self):
        """With the toe of the lead foot."""
        begin = len(self.out)
        for share, seconds in ((0.0, 0.3), (0.06, 0.02), (0.12, 0.1), (0.06, 0.02), (0.0, 0.4), (0.5, 0.4)):
            self.hold(frame(share, 0.85, 0.45), seconds)
        return self.out[begin:]


def signals(frames):
    return [name for live in frames for name in live.signals]


@pytest.fixture(scope="module")
def after_a_swing():
    player = Player()
    player.swing(Golfer())
    return player


def test_an_answer_is_in_one_frame_with_its_signal(after_a_swing):
    player = after_a_swing
    assert signals(player.out) == ["ready", "tick"]
    frames = player.tap()
    (live,) = [live for live in frames if live.answer]
    assert (live.answer, live.signals) == ("toe", ("taken",))
    assert not any(live.sizes for live in frames)
    # The next swing, struck, ends the time for answers.
    player.swing(Golfer())
    assert "tick" in signals(player.out[-400:])


def test_before_any_swing_nobody_is_asked():
    player = Player()
    assert not any(live.answer for live in player.tap())


def test_bands_tighten_and_say_so():
    book = replace(default_rules(), tighten=Tighten(on=True, inside=2, outside=2, of=3)).switched(trail_side=False)
    player = Player(book)
    assert "tightened" not in signals(player.swing(Golfer()))
    frames = player.swing(Golfer())
    (live,) = [live for live in frames if "tightened" in live.signals]
    assert live.signals == ("tick", "tightened")
    assert live.said[2].startswith(
        "Band tightened: toes, after the turn, at most 66 % now, 67 % before; 2 of the last 2"
    )
    assert player.engine.cues.bands.toes_after == 0.66


def test_a_silent_block_neither_sounds_nor_tightens():
    book = replace(default_rules(), tighten=Tighten(on=True, inside=1, outside=1, of=1))
    player = Player(book)
    player.engine.sounds = False
    frames = player.swing(changed(share=HANG))
    assert signals(frames) == ["tick"]
    assert not any(live.sizes for live in frames)


def test_after_impact_the_toes_of_the_backswing_are_told():
    lead = ((0, 0.53), (3.0, 0.53), (3.2, 0.80), (3.6, 0.80), (3.8, 0.47), (7.5, 0.47))
    toes = changed(lead=lead, trail=tuple((t, min(v, 0.75)) for t, v in lead))
    for sound, early in (("at once", True), ("after impact", False)):
        player = Player(replace(default_rules(), sound=sound))
        begin = player.t_s
        heard = [live.t_s - begin for live in player.swing(toes) if "toes" in live.sizes]
        assert heard
        assert (min(heard) < 4.0) is early
        assert (max(heard) > 4.3) is not early
