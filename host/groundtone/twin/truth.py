"""What is true in a scenario, from the mechanics alone: no film, no network, no converter."""

import math
from dataclasses import dataclass

import numpy as np

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.bench import Placement
from groundtone.twin.loads import GolferLoads, PatchLoads, make_loads
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Check, GolferSpec, MatSpec, Scenario, Session, Standing
from groundtone.twin.swing_knots import SwingTimes

LEAST_N = 30.0
LEAST_OF_WEIGHT = 0.05


@dataclass(frozen=True)
class Moment:
    """One row of `Truth`; pairs are (left, right) or (x, y)."""

    t_s: float
    force_n: tuple[float, float]
    lead_share: float
    heel_toe: tuple[float, float]
    heel_toe_overall: float
    cop_u_mm: tuple[float, float]
    cop_v_mm: tuple[float, float]
    cop_stance_mm: tuple[float, float]


@dataclass(frozen=True)
class Truth:
    """The truth on the scenario's grid; axis 0 is time, feet and panels are in the order left, right.

    A foot that carries less than max(30 N, 5 % of body weight) has NaN for its place, and everything overall is NaN
    while both together carry less. Load that falls beside the active area counts here.

    Attributes
    ----------
    t_s : (n,) array
        Film time, s.
    force_n : (n, 2) array
        Vertical force on each panel, N.
    lead_share : (n,) array
        Lead force / total force; NaN throughout where the act has no golfer.
    heel_toe : (n, 2) array
        Centre of pressure along each sole, 0 heel edge to 1 toe edge.
    heel_toe_overall : (n,) array
        The same, weighted with the feet's forces.
    cop_u_mm, cop_v_mm : (n, 2) array
        Centre of pressure in each panel's frame.
    cop_stance_mm : (n, 2) array
        Overall centre of pressure in the stance frame, x and y; NaN where the act has no golfer.
    swings : tuple of SwingTimes
    step_on_s, step_off_s : float
        First and last load by the golfer; NaN without one.
    placements : tuple of Placement
        Loads of a bench or press act.
    """

    t_s: FloatArray
    force_n: FloatArray
    lead_share: FloatArray
    heel_toe: FloatArray
    heel_toe_overall: FloatArray
    cop_u_mm: FloatArray
    cop_v_mm: FloatArray
    cop_stance_mm: FloatArray
    swings: tuple[SwingTimes, ...] = ()
    step_on_s: float = math.nan
    step_off_s: float = math.nan
    placements: tuple[Placement, ...] = ()

    def index(self, film_time_us: int) -> int:
        """Row that holds at a time: the last grid point not after it, inside the film."""
        grid_us = round((self.t_s[1] - self.t_s[0]) * 1e6)
        return min(max(int(film_time_us // grid_us), 0), self.t_s.size - 1)

    def at(self, film_time_us: int) -> Moment:
        """The truth at a time, µs from the film's start."""
        i = self.index(film_time_us)

        def pair(values: FloatArray) -> tuple[float, float]:
            return float(values[i, 0]), float(values[i, 1])

        return Moment(
            float(self.t_s[i]), pair(self.force_n), float(self.lead_share[i]), pair(self.heel_toe),
            float(self.heel_toe_overall[i]), pair(self.cop_u_mm), pair(self.cop_v_mm), pair(self.cop_stance_mm),
        )  # fmt: skip


def stance_from_panel(
    mat: MatSpec, golfer: GolferSpec, panel: int, u_mm: FloatArray, v_mm: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points of a panel in the stance frame.

    The panels' middles lie on y = 0, `stance_mm` apart; each is turned about its middle by its foot's flare.

    Parameters
    ----------
    mat : MatSpec
    golfer : GolferSpec
    panel : int
        0 left, 1 right.
    u_mm, v_mm : arrays
        Along the foot from the heel end, and across from the panel's left edge seen from above.

    Returns
    -------
    x_mm, y_mm : arrays
        +x from the trail to the lead foot, +y from heels to toes.
    """
    flare = math.radians(golfer.flare_deg[panel])
    outward = -1.0 if panel == 0 else 1.0  # towards the golfer's right
    du, dv = u_mm - mat.panel_length_mm / 2.0, v_mm - mat.panel_width_mm / 2.0
    right = outward * golfer.stance_mm / 2.0 + outward * math.sin(flare) * du + math.cos(flare) * dv
    y = math.cos(flare) * du - outward * math.sin(flare) * dv
    return (-right if golfer.hand == "right" else right), y


def truth(scenario: Scenario) -> Truth:
    """Work out the truth of a scenario over its whole length."""
    act, mat = scenario.act, scenario.mat
    loads = make_loads(scenario)
    t = np.arange(loads.steps, dtype=np.float64) * (act.grid_us * 1e-6)
    if isinstance(loads, GolferLoads) and isinstance(act, Session | Standing | Check):
        return _session_truth(mat, act, loads, t)
    force, moment_u, moment_v = np.zeros((3, t.size, 2))
    if isinstance(loads, PatchLoads):
        for place, level in loads.levels(0, loads.steps):
            panel, u, v = loads.centre_mm(place)
            force[:, panel] += level
            moment_u[:, panel] += level * u
            moment_v[:, panel] += level * v
    nothing = np.full(t.size, np.nan)
    twice = np.full((t.size, 2), np.nan)
    return Truth(
        t, force, nothing, twice, nothing, _place(moment_u, force, LEAST_N), _place(moment_v, force, LEAST_N), twice,
        placements=loads.plan if isinstance(loads, PatchLoads) else (),
    )  # fmt: skip


def _session_truth(mat: MatSpec, session: Session | Standing | Check, loads: GolferLoads, t: FloatArray) -> Truth:
    """Truth with a golfer."""
    golfer, sole = session.golfer, loads.sole
    body, shares, placement = loads.feet(0, loads.steps)
    weight = loads.weight_n(0, loads.steps)
    force = body + weight
    least = max(LEAST_N, LEAST_OF_WEIGHT * golfer.mass_kg * STANDARD_GRAVITY)
    heel_toe, foot_u, foot_v = np.empty((3, t.size, 2))
    for foot in (0, 1):
        mean = shares[:, foot] @ sole.place
        heel_toe[:, foot] = mean[:, 0]
        along, across = (mean[:, 0] - 0.5) * sole.length_mm, mean[:, 1] * sole.width_mm
        for index, stand in enumerate(loads.stands[foot]):
            at = placement[:, foot] == index
            foot_u[at, foot], foot_v[at, foot] = stand.to_panel(along[at], across[at])
    moment_u = body * foot_u + weight * mat.panel_length_mm / 2.0
    moment_v = body * foot_v + weight * mat.panel_width_mm / 2.0
    cop_u, cop_v = _place(moment_u, force, least), _place(moment_v, force, least)
    stood = force.sum(axis=1)
    enough = np.where(stood >= least, stood, np.nan)
    stance = np.zeros((t.size, 2))
    for panel in (0, 1):
        # Without load a foot has no place; 0 stands in, times its force of 0.
        loaded = force[:, panel] > 0.0
        safe = np.where(loaded, force[:, panel], 1.0)
        xy = stance_from_panel(mat, golfer, panel, moment_u[:, panel] / safe, moment_v[:, panel] / safe)
        stance += np.where(loaded, force[:, panel], 0.0)[:, None] * np.stack(xy, axis=1)
    carried = body.sum(axis=1)
    on_feet = np.where(carried >= least, carried, np.nan)
    lead = 0 if golfer.hand == "right" else 1
    return Truth(
        t_s=t,
        force_n=force,
        lead_share=body[:, lead] / on_feet,
        heel_toe=np.where(body >= least, heel_toe, np.nan),
        heel_toe_overall=(body * heel_toe).sum(axis=1) / on_feet,
        cop_u_mm=cop_u,
        cop_v_mm=cop_v,
        cop_stance_mm=stance / enough[:, None],
        swings=loads.curves.swings,
        step_on_s=loads.curves.step_on_s,
        step_off_s=loads.curves.step_off_s,
    )


def _place(moment: FloatArray, force: FloatArray, least: float) -> FloatArray:
    """Moment / force where the force is enough, else NaN."""
    out: FloatArray = moment / np.where(force >= least, force, np.nan)
    return out
