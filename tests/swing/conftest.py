"""Sessions of the twin as a perfect mat would measure them: true forces on each cell, a little noise, no film."""

from dataclasses import replace

import numpy as np
import pytest

from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.pressure.feet import Stance
from groundtone.pressure.series import rows_of, series_from_rows
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session
from groundtone.twin.truth import truth


def played(session, noise_n=0.2, sensor=True):
    """The series and the truth of a session, at 200 Hz."""
    scenario = Scenario(MatSpec.reference(seed=1), session)
    loads = GolferLoads(scenario.mat, session)
    force = loads.film_forces(0, loads.steps)[::2]
    force += np.random.default_rng(session.seed).normal(0.0, noise_n, force.shape)
    golfer = session.golfer
    stance = Stance(LEFT if golfer.hand == "right" else RIGHT, golfer.stance_mm, flare_deg=golfer.flare_deg)
    layout = layout_of(scenario.mat.layout)
    rows = rows_of(loads.curves.t_s[::2], force, layout)
    series = series_from_rows(rows, layout, stance, strikes=loads.curves.strikes if sensor else ())
    return series, truth(scenario)


@pytest.fixture(scope="session")
def play():
    return played


@pytest.fixture(scope="session")
def of_styles():
    """One session with the styles good, toe_drift, trail_hang, slide, reverse and lost_balance, by a left-hander."""
    from groundtone.twin.scenario import SwingSpec

    styles = ("good", "toe_drift", "trail_hang", "slide", "reverse", "lost_balance")
    session = Session(GolferSpec(hand="left", mass_kg=62.0), tuple(SwingSpec(s) for s in styles), seed=5)
    series, known = played(replace(session))
    return styles, series, known, session
