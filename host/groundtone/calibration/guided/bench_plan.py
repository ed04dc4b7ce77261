"""The plan of a bench run: which cells get which weights, so that a stated uncertainty costs the fewest placements.

Gains and exponents differ from cell to cell on real film (an exponent's standard deviation from place to place is 0.05
to 0.17 by what others measured), so every cell gets a heavy and a light weight where the time allows. What bends the
curve beyond a power law belongs to the film, so a sample of cells under several loads is enough for it, and the same
sample, unloaded in steps, tells the hysteresis. How large the sample and how often every cell is what the search
decides: each candidate's covariance is computed beforehand with the very equations of the fit
(`calibration.fitting.pooled`), because the covariance of a linear model depends on where the placements lie and not on
what they read. The cheapest candidate that keeps what is asked is taken.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import zip_longest

import numpy as np

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.fit import LEAST_PLACEMENTS
from groundtone.calibration.fitting.forms import ARCH_U, BEND_U, EXPONENT, EXPONENT_U
from groundtone.calibration.fitting.pooled import USUAL_SPREAD, Cells, Spread, solve
from groundtone.calibration.guided.tare import Cell
from groundtone.calibration.guided.weights import Load
from groundtone.calibration.guided.worklist import Step, same_load
from groundtone.calibration.shoes.dead_cells import PITCH_MM
from groundtone.errors import CalibrationError

PLACEMENT_S = 8.0
"""Time that a placement takes a person, s (from the first plan; to be measured on people)."""
MOST_MINUTES = 46.5
"""Two weights on each of 128 cells, some more on a sample, two of which lie on for a while."""
SCATTER = 0.05
"""Relative standard deviation of one placement, as published for such hands (invented until measured)."""
# A foot's force is judged at this load a cell, N: what a golfer of 110 kg puts on the cells under a foot in a swing;
# what the exponents differ by also at the load that most cells of a standing foot carry.
_JUDGED_N, _LIGHT_N = 150.0, 8.0
# How far exponents are expected to differ from cell to cell before any is seen: the middle of what is published.
_EXPECTED_SPREAD = 0.10
# A foot rests on so many of a panel's cells as if they were equally loaded (three tenths; invented).
_UNDER_FOOT = 0.3
# Without cells that get a load twice nobody knows what hands scatter: below eight only where time does not suffice; a
# saturation wants a dozen, where there is time for two loads on every cell.
_SAMPLES = (0, 4, 6, 8, 10, 12, 16, 20, 24, 32)
_SAMPLED, _WELL_SAMPLED = 8, 12
_PASSES = (1, 2, 3, 4)
_MOST_LOADS = 6
# Parts of the peak at which the way down is looked at.
_WAY_DOWN = (0.5, 0.13)
# What every cell gets, N, as near as the weights come to it: a heavy load, and one that its exponent shows against.
_HEAVY_FOR_ALL_N, _LIGHT_FOR_ALL_N = 100.0, 9.0
# Of what is laid once more on the sample, so many lie on for so long, s, where every cell has two loads: how the film
# creeps over a minute.
_HELD, _HOLD_S = 2, 45.0
# Twenty kilograms is heavy enough.
_HEAVY_N = 195.0


@dataclass(frozen=True)
class Expected:
    """What a set of placements would leave unknown (relative standard uncertainties).

    Attributes
    ----------
    cell_u : float
        Of the force of a cell: the least sure of all that can be calibrated.
    foot_u : float
        Of the force of a foot in a swing, without what the weights share.
    """

    cell_u: float
    foot_u: float


@dataclass(frozen=True)
class Plan:
    """A bench run before it is made.

    Attributes
    ----------
    steps : tuple of Step
        In the order in which they are asked for; any other order will do as well.
    sample : tuple of (row, column)
        The cells that get every load.
    reached : bool
        Both uncertainties that were asked for are kept.
    said : tuple of str
        What a person ought to know beforehand.
    """

    steps: tuple[Step, ...]
    sample: tuple[Cell, ...]
    expected: Expected
    reached: bool
    said: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """About how long it takes."""
        return _minutes(self.steps)


def plan_bench(
    rows: int,
    columns: int,
    loads: Sequence[Load],
    *,
    panels: int = 2,
    cell_u: float = 0.10,
    foot_u: float = 0.02,
    most_minutes: float = MOST_MINUTES,
    scatter: float = SCATTER,
    dead: Collection[Cell] = (),
) -> Plan:
    """The plan with the fewest placements that keeps what is asked.

    Parameters
    ----------
    rows, columns : int
        Of the whole mat.
    loads : sequence of Load
        What the builder's weights can make.
    cell_u, foot_u : float
        Relative standard uncertainty that is asked for, of a cell and of a foot.
    most_minutes : float
        No plan is longer; where it does not suffice the plan comes as near as it can and says so.
    scatter : float
        Relative standard deviation of one placement.
    dead : collection of (row, column)
        Left out.

    Raises
    ------
    CalibrationError
        No load, or no time for every cell once.
    """
    if not loads:
        raise CalibrationError("no weight to calibrate with: name at least one, better four from 1 to 20 kg")
    chosen = _spread_loads(loads)
    gone = {(int(row), int(column)) for row, column in dead}
    cells = [(r, c) for c in range(columns) for r in range(rows) if (r, c) not in gone]
    # On the way there and back: column after column without long ways of the hand.
    cells.sort(key=lambda cell: (cell[1], cell[0] if cell[1] % 2 == 0 else -cell[0]))
    most = int(most_minutes * 60 / PLACEMENT_S)
    if len(cells) > most:
        raise CalibrationError(
            f"{len(cells)} cells at {PLACEMENT_S:g} s take {len(cells) * PLACEMENT_S / 60:.0f} minutes and "
            f"{most_minutes:g} were given: allow more"
        )
    order = _scattered(rows, columns, panels, gone)
    best: Plan | None = None
    plans = [
        _steps(cells, order[: sample if len(chosen) > 1 else 0], chosen, passes)
        for passes in _PASSES
        for sample in (_SAMPLES if len(chosen) > 1 else (0,))
        if sample <= len(cells)
    ]
    in_time = [each for each in plans if _minutes(each[0]) <= most_minutes]
    sampled = max((min(len(sample), _SAMPLED) for _, sample in in_time), default=0)
    if any(len(steps) >= 2 * len(cells) and len(sample) >= _WELL_SAMPLED for steps, sample in in_time):
        sampled = _WELL_SAMPLED
    for steps, sample in sorted(in_time, key=lambda each: len(each[0])):
        if len(sample) < sampled:
            continue
        found = expected(steps, rows, columns, panels=panels, scatter=scatter, dead=gone)
        reached = found.cell_u <= cell_u and found.foot_u <= foot_u
        worse = 0.0 if best is None else max(best.expected.cell_u / cell_u, best.expected.foot_u / foot_u)
        if best is None or reached or max(found.cell_u / cell_u, found.foot_u / foot_u) < worse - 1e-9:
            best = Plan(steps, sample, found, reached, ())
        if reached:
            break
    assert best is not None
    return Plan(best.steps, best.sample, best.expected, best.reached, _said(best, chosen, cell_u, foot_u))


def expected(
    placed: Sequence[Step | Placement],
    rows: int,
    columns: int,
    *,
    panels: int = 2,
    scatter: float = SCATTER,
    dead: Collection[Cell] = (),
) -> Expected:
    """What placements leave unknown, made or only planned.

    Parameters
    ----------
    dead : collection of (row, column)

    Returns
    -------
    Expected
        Infinite with nothing placed.
    """
    if not placed:
        return Expected(math.inf, math.inf)
    places = [(p.row, p.column) if isinstance(p, Placement) else p.cell for p in placed]
    force = np.array([p.force_n for p in placed])
    falling = np.array([p.falling for p in placed])
    own = np.array([row * columns + column for row, column in places], np.intp)
    panel = np.tile(np.arange(columns) * panels // columns, rows)
    cells = Cells(own, panel, panels)
    # The typical film turned round: x from ln F = ln 37 + 1.1 x.
    x = np.log(force / 37.0) / EXPONENT
    peak = np.zeros(rows * columns)
    np.maximum.at(peak, own, force)
    arch = np.where(falling, 1 - force / peak[own], 0.0)
    shape = np.stack([x, x * x, -arch], axis=1)
    weight = np.full(force.size, scatter**-2.0)
    centre = float(x.mean())
    prior = np.array([EXPONENT, 0.0, 0.0]), np.array([EXPONENT_U, BEND_U, ARCH_U]) ** -2.0
    z = x - centre
    spread = Spread(USUAL_SPREAD, _EXPECTED_SPREAD)
    solved = solve(shape, z, np.zeros(force.size), weight, cells, spread, prior)
    living = np.ones(rows * columns, bool)
    living[[row * columns + column for row, column in dead]] = False
    # A cell's lean, its level being open.
    mass, turn = cells.sums(weight) + USUAL_SPREAD**-2.0, cells.sums(weight * z)
    lean_var = 1 / (cells.sums(weight * z * z) - turn**2 / mass + _EXPECTED_SPREAD**-2.0)
    judged = math.log(_JUDGED_N / 37.0) / EXPONENT
    at = np.array([judged, judged**2, 0.0])
    lean = lean_var * max(abs(judged - centre), abs(math.log(_LIGHT_N / 37.0) / EXPONENT - centre)) ** 2
    each = solved.level_var + 2 * solved.level_with @ at + at @ solved.covariance[:3, :3] @ at + lean
    own_var = 1 / mass + lean
    under = max(_UNDER_FOOT * rows * columns / panels, 1.0)
    # What is a cell's own averages out under a foot, what all share does not.
    foot = float(np.mean((each - own_var)[living])) + float(np.mean(own_var[living])) / under
    return Expected(math.sqrt(float(each[living].max())), math.sqrt(max(foot, 0.0)))


def _minutes(steps: Sequence[Step]) -> float:
    return sum(max(PLACEMENT_S, step.hold_s) for step in steps) / 60.0


def _spread_loads(loads: Sequence[Load]) -> list[Load]:
    """At most six loads, from the lightest to the heaviest, evenly in the logarithm."""
    ordered: list[Load] = []
    for load in sorted(loads, key=lambda each: each.force_n):
        if not ordered or not same_load(ordered[-1].force_n, load.force_n):
            ordered.append(load)
    if len(ordered) <= _MOST_LOADS:
        return ordered
    wanted = np.geomspace(ordered[0].force_n, ordered[-1].force_n, _MOST_LOADS)
    picked = {int(np.argmin([abs(math.log(each.force_n / w)) for each in ordered])) for w in wanted}
    return [ordered[i] for i in sorted(picked)]


def _for_all(loads: list[Load], passes: int) -> list[Load]:
    """What every cell gets, pass by pass: heavy and light in turn; of a single pass the middle one."""

    def nearest(force_n: float) -> Load:
        # The heavier in doubt.
        return min(loads, key=lambda load: (round(abs(math.log(load.force_n / force_n)), 3), -load.force_n))

    if passes == 1:
        return [nearest(math.sqrt(loads[0].force_n * loads[-1].force_n))]
    heavy, light = nearest(_HEAVY_FOR_ALL_N), nearest(_LIGHT_FOR_ALL_N)
    if heavy is light:
        heavy, light = loads[-1], loads[0]
    return [heavy, light, heavy, light][:passes]


def _steps(
    cells: list[Cell], sample: list[Cell], loads: list[Load], passes: int
) -> tuple[tuple[Step, ...], tuple[Cell, ...]]:
    def step(cell: Cell, load: Load, falling: bool = False, hold_s: float = 0.0) -> Step:
        return Step(cell, load.force_n, load.words, falling, load.u, hold_s)

    # The sample has each load from its own round.
    out: list[Step] = []
    for n, load in enumerate(_for_all(loads, passes)):
        out += [step(cell, load) for cell in cells if n > 1 or cell not in sample]
    down = way_down(loads)
    for cell in sorted(sample, key=cells.index):
        out += [step(cell, load) for load in loads]
        out += [step(cell, load, True) for load in down]
    # Once more, lifted in between: what hands scatter is told apart from what exponents differ by.
    again = sorted(sample, key=cells.index)
    held = _HELD if passes > 1 else 0
    out += [step(cell, _for_all(loads, 2)[0], False, _HOLD_S if n < held else 0.0) for n, cell in enumerate(again)]
    return tuple(out), tuple(sample)


def way_down(loads: Sequence[Load]) -> tuple[Load, ...]:
    """Loads that are reached from the heaviest by taking weights off, one after the other; none where none can be.

    Two are enough for a loop of one number: about half of the peak, and about an eighth.

    Parameters
    ----------
    loads : sequence of Load
        From the lightest to the heaviest.
    """
    top = loads[-1]
    out: list[Load] = []
    for part in _WAY_DOWN:
        lying = out[-1] if out else top
        under = [
            load for load in loads[:-1] if load.parts and load.parts < lying.parts and load.force_n < lying.force_n
        ]
        if under:
            out.append(min(under, key=lambda load: abs(math.log(load.force_n / top.force_n / part))))
    return tuple(out)


def _scattered(rows: int, columns: int, panels: int, gone: set[Cell]) -> list[Cell]:
    """All living cells in an order whose every beginning is spread over all panels.

    The panels take turns. Cells at a panel's edge come last: a puck that lies a little off there loses a part beside
    the panel that nothing can measure.
    """
    across = columns // panels
    queues = []
    for panel in range(panels):
        inside = range(panel * across, (panel + 1) * across)
        cells = [(row, column) for row in range(rows) for column in inside if (row, column) not in gone]
        edge = {cell for cell in cells if cell[0] in (0, rows - 1) or cell[1] in (inside[0], inside[-1])}
        queues.append(_farthest([c for c in cells if c not in edge]) + _farthest([c for c in cells if c in edge]))
    return [cell for turn in zip_longest(*queues) for cell in turn if cell is not None]


def _farthest(cells: list[Cell]) -> list[Cell]:
    """Each next cell is the one farthest from all before it, the first the one nearest to the middle.

    Farthest-point sampling (T. F. Gonzalez, Theoretical Computer Science 38, 1985).
    """
    if not cells:
        return []
    place = np.array(cells, float) * PITCH_MM
    far = -np.hypot(*(place - place.mean(0)).T)
    near = np.full(len(cells), np.inf)
    out = []
    for _ in cells:
        pick = int(np.argmax(far))
        out.append(cells[pick])
        near = np.minimum(near, np.hypot(*(place - place[pick]).T))
        far = np.where(near > 0, near, -np.inf)
    return out


def _said(plan: Plan, loads: list[Load], cell_u: float, foot_u: float) -> tuple[str, ...]:
    out = [f"{len(plan.steps)} placements, about {plan.minutes:.0f} minutes at {PLACEMENT_S:g} s each"]
    span = loads[-1].force_n / loads[0].force_n
    if not plan.reached:
        out.append(
            f"with these weights and this time a cell is known to {100 * plan.expected.cell_u:.1f} % and a foot to "
            f"{100 * plan.expected.foot_u:.1f} % ({100 * cell_u:.1f} % and {100 * foot_u:.1f} % were asked for): "
            + ("add weights" if len(loads) < 4 or span < 4 else "allow more time")
        )
    if len(loads) < 4 or span < 4:
        out.append(
            f"{len(loads)} loads, the heaviest {span:.1f} times the lightest: four and four times are needed to see a "
            "saturation, until then a typical one stands in"
        )
    if len(loads) > 1 and not way_down(loads):
        out.append(
            "none of these loads is reached from the heaviest by taking weights off, so what the film remembers of a "
            "peak is not measured and the usual loop stands in: name stacks in a weight set (loads) to measure it"
        )
    if loads[-1].force_n < _HEAVY_N:
        out.append(
            f"the heaviest load is {loads[-1].force_n:.0f} N: people put 200 N and more on a cell, a lever or a guided "
            "press reaches it"
        )
    if len(plan.steps) < LEAST_PLACEMENTS:
        out.append(f"a fit needs at least {LEAST_PLACEMENTS} placements: repeat them")
    return tuple(out)
