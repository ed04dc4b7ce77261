"""Golfers on the twin, without the firmware: exactly what must be heard is heard."""

import pytest

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.app.live.demo import stance_of
from groundtone.app.live.judging import judge
from groundtone.engine.live import LiveEngine
from groundtone.engine.session import run
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import layout_of
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import demo_scenario
from groundtone.twin.truth import truth
from groundtone.twin.world import World


@pytest.mark.parametrize(
    ("seed", "hand", "mass_kg"), [(33, "right", 120.0), pytest.param(34, "left", 30.0, marks=pytest.mark.long)]
)
def test_golfer_hears_what_the_swing_was(seed, hand, mass_kg):
    scenario = demo_scenario(seed, hand, mass_kg)
    profile = quick_profile(scenario)
    last_us = round(World(scenario).duration_s * 1e6) - 20_000
    with TwinLink(scenario, fast=True) as link:
        link.start(100)
        engine = LiveEngine(layout_of(link.hello.layout), profile.film, stance_of(scenario))
        session = run(
            link, engine, OfflinePlayer(Synth()), keep=10_000, on_frame=lambda item: item.device_us >= last_us
        )
    result = judge(session, truth(scenario), 0, "in process")
    assert [(swing.style, swing.right) for swing in result.swings] == [(s.style, True) for s in result.swings]
    assert len(result.swings) == 8
    assert result.share_error <= 0.02
    assert result.centre_error_mm <= 5.0
