"""Feet, hands and golfers for the mat elsewhere: drawn, moved and timed by nothing of the twin's or of the program's.

Shapes of soles, tempos and shares are common practice or chosen; ranges of styles as published for two of them (Ball
and Best, J. Sports Sci. 2007), wider for the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from studies.elsewhere_mat import COLUMNS, HALF, PITCH_U_MM, PITCH_V_MM, ROWS, Grid, Mat

G = 9.80665
STYLES = ("front", "front", "front", "reverse", "centred", "to lead", "late")
KINDS = ("full",) * 6 + ("half", "pitch", "chip")
_SIZE = {"full": 1.0, "half": 0.6, "pitch": 0.4, "chip": 0.2}
_FINE = 4


class Feet:
    """Two shoes on the panels, an uneven sole each."""

    def __init__(self, rng: np.random.Generator) -> None:
        length, width = rng.uniform(255, 310), rng.uniform(88, 105)
        self._maps = [self._map(rng, foot, length, width) for foot in (0, 1)]

    def cells(self, total_n: float, left: float, along: tuple[float, float], across: float = 0.0) -> Grid:
        """Force of each cell, N: `left` of the total on the left foot, each foot's middle so far from heel to toe."""
        out = np.zeros((ROWS, COLUMNS))
        for foot, part in ((0, left), (1, 1.0 - left)):
            heel, middle, inner, outer, toe = self._maps[foot]
            ball = inner * (0.5 + 0.3 * across) + outer * (0.5 - 0.3 * across)
            onto = min(1.0, max(0.0, (along[foot] - 0.68) / 0.2))
            front = (1 - onto) * (0.82 * ball + 0.18 * toe) + onto * (0.6 * ball + 0.4 * toe)
            forward = float(np.clip((along[foot] - 0.17) / 0.53, 0.0, 1.0))
            sole = (1 - forward) * (0.85 * heel + 0.15 * middle) + forward * front
            out[:, foot * HALF : (foot + 1) * HALF] = total_n * part * sole
        return out

    def _map(self, rng: np.random.Generator, foot: int, length: float, width: float) -> list[Grid]:
        """Heel, middle, inner and outer ball, toe: what each gives to the cells, sums of 1."""
        u = (np.arange(ROWS * _FINE) + 0.5) * PITCH_U_MM / _FINE - rng.uniform(5, 15)
        v = (np.arange(HALF * _FINE) + 0.5) * PITCH_V_MM / _FINE - 70.0 - rng.normal(0, 4)
        at, beside = np.meshgrid(u, v, indexing="ij")
        turn = np.deg2rad(rng.normal(0, 4))
        along = (at * np.cos(turn) + beside * np.sin(turn)) / length
        inward = (beside * np.cos(turn) - at * np.sin(turn)) / width * (1 if foot else -1)
        inside = (along > 0.01) & (along < 0.99) & (np.abs(inward) < np.where(along < 0.35, 0.34, 0.475))
        uneven = np.clip(1.0 + rng.normal(0, 0.25, (ROWS, HALF)), 0.15, 2.0)
        out = []
        for place, long, side, wide in (
            (0.13, 0.08, 0.0, 0.24), (0.42, 0.13, -0.18, 0.20), (0.70, 0.07, 0.18, 0.17), (0.66, 0.07, -0.20, 0.17),
            (0.88, 0.05, 0.12, 0.20),
        ):  # fmt: skip
            fine = np.exp(-(((along - place) / long) ** 2) / 2 - ((inward - side) / wide) ** 2 / 2) * inside
            cell = fine.reshape(ROWS, _FINE, HALF, _FINE).sum((1, 3)) * uneven
            out.append(cell / cell.sum())
        return out


class Hands:
    """Set a weight down, leave it, take it off; ramps of 0.15 s, a scatter of each placement."""

    def __init__(self, mat: Mat) -> None:
        self._mat = mat
        self._changes: list[tuple[float, Grid]] = [(0.0, np.zeros((ROWS, COLUMNS)))]
        mat.force = self._at

    @property
    def lies(self) -> bool:
        """Something lies there, or will."""
        return bool(self._changes[-1][1].any())

    def put(self, row: int, column: int, force_n: float) -> None:
        """This, on this cell, after whatever lies there has been taken off."""
        if self.lies:
            self.off()
        self._mat.film.contact = self._mat.film.contact.copy()
        self._mat.film.contact[row, column] = np.exp(self._mat.rng.normal(0.0, self._mat.film.scatter))
        self.more(row, column, force_n, self._mat.rng.uniform(1.0, 2.5))

    def more(self, row: int, column: int, force_n: float, after_s: float = 1.2) -> None:
        """So much in all, without a lift."""
        grid = np.zeros((ROWS, COLUMNS))
        grid[row, column] = force_n
        self._change(grid, after_s)

    def off(self) -> None:
        """All of it."""
        self._change(np.zeros((ROWS, COLUMNS)), 0.7)

    def _change(self, grid: Grid, after_s: float) -> None:
        self._changes.append((max(self._mat.t_s, self._changes[-1][0] + 0.2) + after_s, grid))

    def _at(self, t_s: float) -> Grid:
        while len(self._changes) > 1 and self._changes[1][0] <= t_s - 0.15:
            self._changes.pop(0)
        now = self._changes[0][1]
        if len(self._changes) > 1 and self._changes[1][0] <= t_s:
            part = (t_s - self._changes[1][0]) / 0.15
            return np.asarray(now * (1 - part) + self._changes[1][1] * part)
        return now


class Stander:
    """Does what a check or a standing calibration asks for."""

    def __init__(self, mat: Mat, golfer: Golfer) -> None:
        self._mat, self._golfer = mat, golfer
        self._does, self._next, self._since, self._due = "off", "off", mat.t_s, np.inf
        self._lap_s = mat.rng.uniform(6.0, 9.0)
        self._now, self._last = np.array([0.0, 0.5, 0.45]), mat.t_s
        mat.force = self._at

    @property
    def stands(self) -> bool:
        """On the mat, or about to be."""
        return self._next != "off"

    def do(self, what: str) -> None:
        """off, stand, rock, left up or right up, after a moment."""
        self._next, self._due = what, self._mat.t_s + 1.2

    def _at(self, t_s: float) -> Grid:
        if t_s >= self._due:
            self._does, self._since, self._due = self._next, t_s, np.inf
        turn = 2 * np.pi * (t_s - self._since) / self._lap_s
        wanted = {
            "off": (0.0, float(self._now[1]), 0.45), "stand": (1.0, 0.5, 0.46), "left up": (1.0, 0.0, 0.46),
            "right up": (1.0, 1.0, 0.46), "rock": (1.0, 0.5 + 0.38 * np.sin(turn), 0.47 + 0.28 * np.cos(turn)),
        }[self._does]  # fmt: skip
        self._now += (np.array(wanted) - self._now) * (1.0 - np.exp(-(t_s - self._last) / 0.12))
        self._last = t_s
        total, left, along = self._now.tolist()
        if total < 0.02:
            return np.zeros((ROWS, COLUMNS))
        sway = 0.004 * np.sin(2 * np.pi * 0.4 * t_s) + 0.002 * np.sin(2 * np.pi * 1.1 * t_s)
        left = left + sway if 0.02 < left < 0.98 else round(left)
        return self._golfer.feet.cells(total * self._golfer.weight_n, left, (along + sway, along + sway))


@dataclass(frozen=True)
class Ball:
    """What truly happened, device time, s."""

    kind: str
    takeaway_s: float
    turn_s: float
    top_s: float
    impact_s: float


class Golfer:
    """A right-handed golfer who steps on, rocks round, and hits balls with restless waits between them."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self.mass_kg = rng.uniform(45.0, 115.0)
        self.weight_n = self.mass_kg * G
        self.feet = Feet(rng)
        self.style = str(rng.choice(STYLES))
        self._setup, self._peak, self._ahead_s = rng.uniform(0.42, 0.62), rng.uniform(1.1, 1.9), rng.uniform(0.0, 0.09)
        self._along = rng.uniform(0.45, 0.60)
        self._knots: dict[str, list[float]] = {"t": [], "total": [], "left": [], "lead": [], "trail": []}
        self._curves: dict[str, Callable[[float], float]] = {}
        self._tremor = [(rng.uniform(0.2, 3.0), rng.uniform(0, 6.28), rng.normal(0, 0.003)) for _ in range(8)]
        self.balls: list[Ball] = []
        self.rocked_s = 0.0

    def plan(self, begin_s: float, balls: int) -> float:
        """A session; when it is over."""
        rng = self._rng
        self._knot(begin_s, total=0.0, left=0.0, lead=0.3, trail=0.3)
        t = begin_s + 2.0
        self._knot(t, total=0.0)
        self._knot(t + 0.35, total=0.9, left=0.02, trail=0.42)
        self._knot(t + 0.5, total=1.0)
        self._knot(t + 1.0, left=0.5, lead=0.45, trail=0.45)
        t += 2.0
        for _ in range(2):
            lap_s = rng.uniform(6.0, 9.0)
            for k in range(1, 13):
                turn, along = np.pi * k / 6, 0.47 + 0.27 * np.cos(np.pi * k / 6)
                self._knot(t + lap_s * k / 12, left=0.5 + 0.36 * np.sin(turn), lead=along, trail=along)
            t += lap_s
        self.rocked_s = t = t + 1.0
        for _ in range(balls):
            t = self._wander(t, rng.uniform(2.0, 8.0))
            t = self._ball(t, str(rng.choice(KINDS)))
        t = self._wander(t, 15.0)
        self._knot(t + 0.5, left=0.97)
        self._knot(t + 0.9, left=1.0, total=0.9)
        self._knot(t + 1.2, total=0.0)
        self._knot(t + 2.0, total=0.0)
        self._curves = {
            name: PchipInterpolator(self._knots["t"], self._knots[name]) for name in self._knots if name != "t"
        }
        return t + 2.0

    def cells(self, t_s: float) -> Grid:
        """Force of each cell, N."""
        if not self._knots["t"][0] < t_s < self._knots["t"][-1]:
            return np.zeros((ROWS, COLUMNS))
        total, left, lead, trail = (float(self._curves[name](t_s)) for name in ("total", "left", "lead", "trail"))
        if total < 0.01:
            return np.zeros((ROWS, COLUMNS))
        sway, bob = (
            sum(size * np.sin(2 * np.pi * hz * factor * t_s + phase) for hz, phase, size in self._tremor)
            for factor in (1.0, 1.13)
        )
        left = float(np.clip(left + (sway if left < 0.97 else 0.0), 0.0, 1.0))
        return self.feet.cells(total * self.weight_n * (1 + 0.3 * bob), left, (lead + bob, trail + bob))

    def _knot(self, t_s: float, **values: float) -> None:
        times = self._knots["t"]
        times.append(max(t_s, times[-1] + 0.02) if times else t_s)
        for name, kept in self._knots.items():
            if name != "t":
                kept.append(values.get(name, kept[-1] if kept else 0.0))

    def _wander(self, t: float, seconds: float) -> float:
        end = t + seconds
        while t < end:
            t += self._rng.uniform(0.5, 1.6)
            lead, trail = self._rng.uniform(0.38, 0.58, 2)
            self._knot(
                t, left=self._rng.uniform(0.34, 0.66), lead=lead, trail=trail, total=1.0 + self._rng.normal(0, 0.01)
            )
        return t

    def _ball(self, t: float, kind: str) -> float:
        rng, size = self._rng, _SIZE[kind]
        lean = 0.13 if kind in ("pitch", "chip") else 0.0
        setup = float(np.clip(self._setup + rng.normal(0, 0.02) + lean, 0.36, 0.8))
        along = self._along + rng.normal(0, 0.02)
        t += 0.8
        self._knot(t, left=setup + rng.normal(0, 0.03), lead=along, trail=along, total=1.0)
        for _ in range(int(rng.integers(0, 4))):
            t += rng.uniform(0.3, 0.6)
            self._knot(t, left=setup + rng.choice((-1, 1)) * rng.uniform(0.02, 0.05))
        t += rng.uniform(0.5, 0.8)
        self._knot(t, left=setup, lead=along, trail=along)
        t += rng.uniform(0.4, 1.5)
        self._knot(t, left=setup)
        quick = kind in ("full", "half")
        back_s = rng.uniform(0.65, 1.0) * (1.0 if quick else rng.uniform(0.6, 0.9))
        down_s = rng.uniform(0.22, 0.33) * (1.0 if kind == "full" else 1.2)
        ball = Ball(kind, t, t + back_s - rng.uniform(0, 0.22), t + back_s, t + back_s + down_s)
        self.balls.append(ball)
        self._swing(ball, setup, along, size)
        hold_s = rng.uniform(1.2, 3.0)
        self._knot(ball.impact_s + 0.6 + hold_s)
        self._knot(ball.impact_s + 1.8 + hold_s, left=0.5, lead=0.47, trail=0.47)
        return ball.impact_s + 2.1 + hold_s

    def _swing(self, ball: Ball, setup: float, along: float, size: float) -> None:
        rng, reverse, late = self._rng, self.style == "reverse", self.style == "late"
        low, high = {
            "front": (-0.33, -0.15), "reverse": (-0.3, -0.15), "centred": (-0.09, -0.02), "to lead": (0.02, 0.12),
            "late": (-0.3, -0.12),
        }[self.style]  # fmt: skip
        back = rng.uniform(low, high) * (size if size > 0.5 else 0.6 * size + 0.2)
        low, high = {
            "front": (0.68, 0.9), "reverse": (0.45, 0.58), "centred": (0.6, 0.8), "to lead": (0.5, 0.75),
            "late": (0.55, 0.75),
        }[self.style]  # fmt: skip
        across = setup + (rng.uniform(low, high) - setup) * min(1.0, size + 0.1)
        peak, ahead = 1 + (self._peak - 1) * size * rng.uniform(0.85, 1.1), -0.03 if late else self._ahead_s
        most_s, forth = ball.impact_s - ahead, across - setup - back
        dip = rng.uniform(0.8, 1.0) if size > 0.3 else 1.0
        turn_s = ball.turn_s
        self._knot((ball.takeaway_s + turn_s) / 2, left=setup + 0.55 * back, trail=along - 0.06 * size, total=0.97)
        self._knot(turn_s, left=setup + back, trail=along - 0.12 * size, lead=along + 0.03 * size, total=1.02)
        self._knot(
            turn_s + 0.45 * (most_s - turn_s), total=dip + 0.02, left=0.68 if reverse else setup + back + 0.35 * forth
        )
        self._knot(
            most_s, total=peak, left=0.6 if reverse else setup + back + 0.93 * forth, lead=along - 0.05 * size,
            trail=min(0.8, along + 0.12 * size),
        )  # fmt: skip
        if most_s < ball.impact_s - 0.02:
            self._knot(ball.impact_s, left=across, total=peak - (peak - 0.95) * min(0.8, ahead / 0.1))
        after_s = max(ball.impact_s, most_s)
        self._knot(after_s + 0.12, total=1 - 0.2 * size, left=across + 0.1 * (1 - across), trail=0.62 + 0.12 * size)
        finish = 0.65 if reverse else min(0.93, across + 0.2 * size)
        self._knot(ball.impact_s + 0.35, total=1.05, left=finish, trail=0.6 + 0.2 * size, lead=0.42)
        self._knot(ball.impact_s + 0.6, total=1.0)
