"""An act as forces on the mat, on its time grid: what the world feeds to the film and what is true."""

import bisect

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.bench import Placement, patch_shares, placements, ramp, stacked_level
from groundtone.twin.footprint import Sole, blob_weights, make_sole
from groundtone.twin.golfer import Curves, session_curves
from groundtone.twin.hand_loads import HandLoads
from groundtone.twin.hands import Hands
from groundtone.twin.mechanics import Stand, bend, draw_stands, film_matrix, shoe_ratios
from groundtone.twin.network import FloatArray
from groundtone.twin.scenario import Bench, Check, MatSpec, Press, Scenario, Session, Standing
from groundtone.twin.weighing import check_curves, standing_curves

WEIGHT_PATCH_MM = (100.0, 100.0)
LEANT_MM = (25.0, 60.0)  # of a club that lies on the mat's toe end
# A foot that was forgotten on the mat while it looks for its empty state (invented: part of a weight, a plain sole).
FORGOTTEN_N, FORGOTTEN_MM = 300.0, (250.0, 90.0)


class GolferLoads:
    """A session's loads. Feet are in the order left, right.

    Attributes
    ----------
    curves : Curves
    sole : Sole
    stands : two tuples of Stand
        Placements of the left and of the right foot.
    steps : int
        Steps of the grid.
    """

    def __init__(self, mat: MatSpec, session: Session | Standing | Check) -> None:
        self._mat = mat
        self._session = session
        self.curves: Curves = _curves_of(session)
        self.sole: Sole = make_sole(session.golfer)
        self.steps: int = self.curves.t_s.size
        count = int(self.curves.placement.max()) + 1
        self.stands: tuple[tuple[Stand, ...], tuple[Stand, ...]] = draw_stands(mat, session.golfer, session.seed, count)
        ratios = shoe_ratios(mat, session.seed if session.shoe_seed is None else session.shoe_seed)
        self._matrices = [
            [film_matrix(mat, self.sole, stand, ratios[foot]) for stand in self.stands[foot]] for foot in (0, 1)
        ]
        leant_n = session.leant_n if isinstance(session, Session) else 0.0
        grip_mm = mat.panel_length_mm - 15.0, mat.panel_width_mm / 2.0
        self._leant = leant_n * patch_shares(mat, grip_mm, LEANT_MM)
        self._mark = patch_shares(mat, (mat.panel_length_mm / 2.0, mat.panel_width_mm / 2.0), WEIGHT_PATCH_MM)

    def curve(self, foot: int) -> int:
        """Index in the curves' last axis (lead, trail) of the left (0) or right (1) foot."""
        return foot if self._session.golfer.hand == "right" else 1 - foot

    def feet(self, start: int, stop: int) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
        """Loads of a block of steps: force (n, 2) N, blob shares (n, 2, P), placement (n, 2); feet left, right."""
        order = [self.curve(0), self.curve(1)]
        cut = slice(start, stop)
        force = self.curves.force_n[cut][:, order]
        heel_toe, lean = self.curves.heel_toe[cut][:, order], self.curves.lean[cut][:, order]
        shares = np.stack([blob_weights(self.sole, heel_toe[:, i], lean[:, i]) for i in (0, 1)], axis=1)
        return force, shares, self.curves.placement[cut][:, order]

    def weight_n(self, start: int, stop: int) -> FloatArray:
        """The known weight on each panel, (n, 2), N."""
        t = self.curves.t_s[start:stop]
        out = np.zeros((t.size, 2))
        for panel, (on, off) in enumerate(self.curves.weight_s):
            out[:, panel] = self._session.weight_n * ramp(t, on, off)
        return out

    def film_forces(self, start: int, stop: int) -> FloatArray:
        """Force through each cell's film, (n, R, C), N."""
        mat = self._mat
        force, shares, placement = self.feet(start, stop)
        out = np.zeros((force.shape[0], mat.rows, mat.columns))
        for foot in (0, 1):
            load = force[:, foot, None] * shares[:, foot]
            panel = np.zeros((load.shape[0], mat.rows * mat.columns_per_panel))
            for index, matrix in enumerate(self._matrices[foot]):
                at = placement[:, foot] == index
                panel[at] = load[at] @ matrix
            first = foot * mat.columns_per_panel
            out[:, :, first : first + mat.columns_per_panel] = panel.reshape(-1, mat.rows, mat.columns_per_panel)
        if self.curves.weight_s:
            lying = self.weight_n(start, stop)
            out += np.concatenate([lying[:, i, None, None] * self._mark for i in (0, 1)], axis=2)
        out[:, :, mat.columns_per_panel :] += self._leant
        return bend(mat, out)


def _curves_of(act: Session | Standing | Check) -> Curves:
    if isinstance(act, Standing):
        return standing_curves(act)
    return check_curves(act) if isinstance(act, Check) else session_curves(act)


class PatchLoads:
    """Loads of a bench or press act.

    Attributes
    ----------
    plan : tuple of Placement
    steps : int
        Steps of the grid.
    """

    def __init__(self, mat: MatSpec, act: Bench | Press) -> None:
        self._mat = mat
        self._dt_s = act.grid_us * 1e-6
        self.plan: tuple[Placement, ...] = placements(mat, act)
        self.steps: int = round((self.plan[-1].off_s + 0.5) / self._dt_s) + 1
        self._ends = [p.off_s for p in self.plan]
        self._foot_s = act.foot_s if isinstance(act, Bench) else 0.0

    def levels(self, start: int, stop: int) -> list[tuple[Placement, FloatArray]]:
        """Placements that fall into a block of steps, each with its load in time, N."""
        t = np.arange(start, stop, dtype=np.float64) * self._dt_s
        out = []
        index = bisect.bisect_left(self._ends, t[0])
        while index < len(self.plan) and self.plan[index].on_s <= t[-1]:
            out.append((self.plan[index], stacked_level(t, self.plan, index)))
            index += 1
        return out

    def centre_mm(self, place: Placement) -> tuple[int, float, float]:
        """Panel (0 left, 1 right) and the patch's centre (u, v) in its frame, mm."""
        mat = self._mat
        row, column = place.cell
        panel, j = divmod(column, mat.columns_per_panel)
        u = (row + 0.5) * mat.row_pitch_mm + place.offset_mm[0]
        return panel, u, (j + 0.5) * mat.column_pitch_mm + place.offset_mm[1]

    def film_forces(self, start: int, stop: int) -> FloatArray:
        """Force through each cell's film, (n, R, C), N; pucks and fingers reach the film whole (ratio 1)."""
        mat = self._mat
        out = np.zeros((stop - start, mat.rows, mat.columns))
        for place, level in self.levels(start, stop):
            panel, u, v = self.centre_mm(place)
            first = panel * mat.columns_per_panel
            shares = patch_shares(mat, (u, v), place.size_mm)
            on = np.flatnonzero(level)
            if on.size:
                lying = slice(int(on[0]), int(on[-1]) + 1)
                film_n = place.contact * level[lying, None, None] * shares
                out[lying, :, first : first + mat.columns_per_panel] += film_n
        if start * self._dt_s < self._foot_s:
            t = np.arange(start, stop, dtype=np.float64) * self._dt_s
            middle = (mat.panel_length_mm / 2.0, mat.panel_width_mm / 2.0)
            standing = FORGOTTEN_N * ramp(t, 0.0, self._foot_s)[:, None, None]
            out[:, :, : mat.columns_per_panel] += standing * patch_shares(mat, middle, FORGOTTEN_MM)
        return bend(mat, out)


class NoLoads:
    """Nobody on the mat, for a number of steps."""

    def __init__(self, mat: MatSpec, steps: int) -> None:
        self._shape = (mat.rows, mat.columns)
        self.steps: int = steps

    def film_forces(self, start: int, stop: int) -> FloatArray:
        """Zeros, (n, R, C), N."""
        return np.zeros((stop - start, *self._shape))


Loads = GolferLoads | PatchLoads | HandLoads | NoLoads


def make_loads(scenario: Scenario) -> Loads:
    """The loads of a scenario's act."""
    act = scenario.act
    if isinstance(act, Session | Standing | Check):
        return GolferLoads(scenario.mat, act)
    if isinstance(act, Bench | Press):
        return PatchLoads(scenario.mat, act)
    if isinstance(act, Hands):
        return HandLoads(scenario.mat, act)
    return NoLoads(scenario.mat, round(act.duration_s * 1e6 / act.grid_us) + 1)
