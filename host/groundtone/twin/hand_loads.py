"""What hands and feet do to the mat while it runs: forces on the film, a test resistor between strips, taps."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from groundtone.gravity import STANDARD_GRAVITY
from groundtone.twin.bench import patch_shares, ramp
from groundtone.twin.hands import Hands, parse_action
from groundtone.twin.mat_spec import MatSpec
from groundtone.twin.mechanics import bend
from groundtone.twin.network import FloatArray

# A foot as two patches, heel and forefoot: middle along the panel and size (share of its length, mm across), share.
FEET = ((0.24, 0.22, 62.0, 0.45), (0.66, 0.30, 92.0, 0.55))


@dataclass(frozen=True)
class Patch:
    """A load on a rectangle that moves evenly from one place (u, v) to another, mm."""

    on_s: float
    off_s: float
    panel: int
    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    size_mm: tuple[float, float]
    load_n: float
    sharp: bool = True  # rises and falls at its ends; otherwise another patch goes on where this one stops


@dataclass(frozen=True)
class Touch:
    """A resistor held between a row strip and a column strip."""

    on_s: float
    off_s: float
    row: int
    column: int
    siemens: float


class HandLoads:
    """Loads of a `Hands` act; they grow as words come in.

    Attributes
    ----------
    steps : int
        Steps of the grid.
    taps : list of (s, strength)
        What the strike sensor hears.
    """

    def __init__(self, mat: MatSpec, act: Hands) -> None:
        self._mat = mat
        self._act = act
        self._dt_s = act.grid_us * 1e-6
        self._rng = np.random.default_rng([act.seed, 60])
        self._patches: list[Patch] = []
        self._touches: list[Touch] = []
        self.steps: int = round(act.duration_s / self._dt_s) + 1
        self.taps: list[tuple[float, float]] = []
        self._busy_s = 0.0

    def do(self, text: str, earliest_s: float) -> float:
        """Do what `groundtone.twin.hands.parse_action` understands, after what is being done; when it will end, s."""
        word, n = parse_action(text, self._mat)
        at = max(earliest_s + self._act.reaction_s, self._busy_s + self._act.pause_s)
        match word:
            case "press":
                end = self._press(at, int(n[0]), int(n[1]), n[2], n[3])
            case "hold":
                end = self._press(at, int(n[0]), int(n[1]), n[4], n[5])
                self._press(at, int(n[2]), int(n[3]), n[4], n[5])
            case "stroke":
                end = at
                for j in range(self._mat.columns_per_panel):
                    column = int(n[0]) * self._mat.columns_per_panel + j
                    end = self._press(end, int(n[1]), column, 40.0, 0.4) + self._act.pause_s
            case "walk":
                end = self._walk(at, int(n[0]), by_rows=n[1] > 0)
            case "touch":
                end = at + n[2]
                self._touches.append(Touch(at, end, int(n[0]), int(n[1]), 1.0 / self._act.resistor_ohm))
            case "stand":
                end = self._stand(at, n[0] * STANDARD_GRAVITY, n[1])
            case _:
                end = at + 0.01
                self.taps.append((at, n[0]))
        self._busy_s = end
        return end

    def film_forces(self, start: int, stop: int) -> FloatArray:
        """Force through each cell's film, (n, R, C), N; fingers and feet reach the film whole."""
        mat = self._mat
        out = np.zeros((stop - start, mat.rows, mat.columns))
        t = np.arange(start, stop, dtype=np.float64) * self._dt_s
        half = mat.columns_per_panel
        self._patches = [p for p in self._patches if p.off_s > t[0] - 1.0]
        for p in self._patches:
            level = p.load_n * (ramp(t, p.on_s, p.off_s) if p.sharp else ((t >= p.on_s) & (t < p.off_s)))
            for i in np.flatnonzero(level):
                way = min(1.0, max(0.0, (t[i] - p.on_s) / (p.off_s - p.on_s)))
                middle = tuple(a + way * (b - a) for a, b in zip(p.start_mm, p.end_mm, strict=True))
                shares = patch_shares(mat, (middle[0], middle[1]), p.size_mm)
                out[i, :, p.panel * half : (p.panel + 1) * half] += level[i] * shares
        return bend(mat, out)

    def beside_film(self, start: int, stop: int) -> FloatArray:
        """Conductance that lies beside the film between row and column strips, (n, R, C), S."""
        mat = self._mat
        out = np.zeros((stop - start, mat.rows, mat.columns))
        t = np.arange(start, stop, dtype=np.float64) * self._dt_s
        for touch in self._touches:
            out[(t >= touch.on_s) & (t < touch.off_s), touch.row, touch.column] += touch.siemens
        return out

    def _press(self, at: float, row: int, column: int, newtons: float, seconds: float) -> float:
        mat, act = self._mat, self._act
        panel, j = divmod(column, mat.columns_per_panel)
        off_centre = np.clip(self._rng.standard_normal(2), -2.0, 2.0)
        u = (row + 0.5) * mat.row_pitch_mm + float(off_centre[0])
        v = (j + 0.5) * mat.column_pitch_mm + 2.0 * float(off_centre[1])
        load = newtons * math.exp(act.force_spread * float(np.clip(self._rng.standard_normal(), -2.0, 2.0)))
        end = at + seconds
        self._patches.append(Patch(at, end, panel, (u, v), (u, v), act.finger_mm, load))
        return end

    def _walk(self, at: float, panel: int, by_rows: bool) -> float:
        """A finger slides over every cell of a panel, to and fro, from the heel end's left corner."""
        mat, act = self._mat, self._act
        u = [(k + 0.5) * mat.row_pitch_mm for k in range(mat.rows)]
        v = [(j + 0.5) * mat.column_pitch_mm for j in range(mat.columns_per_panel)]
        outer, inner = (u, v) if by_rows else (v, u)
        points = []
        for i, fixed in enumerate(outer):
            for moving in inner if i % 2 == 0 else inner[::-1]:
                points.append((fixed, moving) if by_rows else (moving, fixed))
        load = 40.0 * math.exp(0.5 * act.force_spread * float(self._rng.standard_normal()))
        now = at
        for a, b in pairwise(points):
            end = now + math.dist(a, b) / act.walk_mm_s
            self._patches.append(Patch(now, end, panel, a, b, act.finger_mm, load, sharp=False))
            now = end
        return now

    def _stand(self, at: float, newtons: float, seconds: float) -> float:
        mat = self._mat
        end = at + seconds
        for panel in (0, 1):
            for middle, length, across, share in FEET:
                centre = (middle * mat.panel_length_mm, mat.panel_width_mm / 2.0)
                size = (length * mat.panel_length_mm, across)
                self._patches.append(Patch(at, end, panel, centre, centre, size, 0.5 * newtons * share))
        return end
