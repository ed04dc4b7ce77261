"""Guides hands through a bench run: what to do next, what was taken, what is wrong. No input, no output, no clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.expectation import Expectation
from groundtone.calibration.guided.load_watch import Event, LoadWatch, Reading, Seen
from groundtone.calibration.guided.lying import Lying
from groundtone.calibration.guided.remarks import FAULTS, Ask, Now, Remark, What
from groundtone.calibration.guided.tare import Cell, Empty, Ill, Standing, Tare, by_line, touching
from groundtone.calibration.guided.worklist import Step, Worklist, same_load

# Hands take about 8 s a placement; a named cell that has read nothing for this long is remarked on, s.
_NOTHING_S = 20.0
# Frames without numbers for so long mean that the mat is no network that can be solved, s.
_UNREADABLE_S = 2.0
# A raw reading above this part of the ADC's range is a short: the heaviest load on one cell reads a third.
_RAW_SHORT = 0.5
# Below this part of the weight on its own cell a load lies on two.
_OWN_SHARE = 0.65
# A way down that was broken off so often is left out.
_BROKEN = 2
# Two readings that differ by less, in ln, are the same reading.
_SAME_READING = 0.15


class BenchGuide:
    """A bench run as it goes on, frame after frame.

    Parameters
    ----------
    plan : sequence of Step
        Everything that is to be done.
    taken : sequence of Placement
        What an earlier part of the run has taken: it is not asked for again.
    """

    def __init__(
        self, rows: int, columns: int, columns_per_panel: int, plan: Sequence[Step], taken: Sequence[Placement] = ()
    ) -> None:
        self._shape = (rows, columns)
        self._per_panel = columns_per_panel
        self.work = Worklist(plan)
        self.taken: list[Placement] = list(taken)
        self.ill: dict[Cell, Ill] = {}
        self.faults: list[Remark] = []
        self._expect = Expectation(rows, columns)
        for placement in taken:
            self._expect.learn(placement)
            step = self.work.find((placement.row, placement.column), placement.force_n, placement.falling)
            if step is not None:
                self.work.done(step)
        self._wrong_turns: list[tuple[Cell, Cell]] = []
        self._passed: dict[Cell, int] = {}
        self._answered: set[Cell] = {(p.row, p.column) for p in taken}
        # Cells that answered when they were named: their lines are where they should be.
        self._proved: set[Cell] = set(self._answered)
        # The reading that was refused last: cell, weight, S, and what it looked like, N.
        self._refused: tuple[Cell, float, float, float] | None = None
        self._broken: dict[Cell, int] = {}
        self.look_again()

    @property
    def done(self) -> bool:
        """Everything that was asked for is taken, or was left out."""
        return self.work.named is None

    @property
    def left_out(self) -> frozenset[Cell]:
        """Cells that are not asked for any more because they are ill or dead."""
        dead = {remark.cells[0] for remark in self.faults if remark.what is What.DEAD}
        return frozenset(dead | {cell for cell, ill in self.ill.items() if ill is not Ill.NOISY})

    @property
    def silent(self) -> bool:
        """A cell that is named has been passed over before and gave no answer."""
        named = self.work.named
        return named is not None and named.cell in self._passed

    def look_again(self) -> None:
        """Begins with the empty mat once more: at the start, and after the mat had been lost."""
        self.work.mend_ways_down()
        self._tare: Tare | None = Tare()
        self._watch: LoadWatch | None = None
        self._standing: frozenset[Cell] = frozenset()
        self._again = False
        self._on_cell: Placement | None = None
        self._since_s = self._blind_s = math.nan
        self._hold_until_s = -math.inf
        self._lies: Lying | None = None

    def skip(self) -> None:
        """Leaves the named cell out of the run, by a key."""
        if self.work.named is not None:
            self.work.skip(self.work.named.cell)

    def take_back(self) -> Placement | None:
        """Forgets the newest placement and asks for it again; it, or None where there is none."""
        if not self.taken:
            return None
        last = self.taken.pop()
        self._expect.forget(last)
        self.work.undo((last.row, last.column), last.force_n, last.falling)
        return last

    def step(self, t_s: float, conductance_s: NDArray[np.float64], raw: NDArray[np.float64] | None = None) -> Now:
        """One frame.

        Parameters
        ----------
        t_s : float
            Device time, s, rising.
        conductance_s : ndarray, shape (rows, columns)
            S; a frame with a NaN is left out.
        raw : ndarray, shape (rows, columns), optional
            The frame's readings as parts of the ADC's range: they show a short where no conductances come out.
        """
        if np.isfinite(conductance_s).all():
            self._blind_s = math.nan
        elif math.isnan(self._blind_s):
            self._blind_s = t_s
        elif t_s - self._blind_s > _UNREADABLE_S:
            return self._unreadable(raw)
        if self._watch is None:
            return self._look(t_s, conductance_s)
        event = self._watch.step(t_s, conductance_s)
        if event is None:
            return self._lying(t_s, conductance_s)
        match event.seen:
            case Seen.STEADY:
                assert event.reading is not None
                return self._steady(event.reading)
            case Seen.LIFTED:
                return self._lifted(event.cell, t_s)
            case Seen.TOUCHED:
                self._again = False
                return self._now(Ask.HOLD)
            case _:
                return self._refuse(self._mishap(event), t_s)

    def _unreadable(self, raw: NDArray[np.float64] | None) -> Now:
        """No conductances come out of the readings: which cells look like the reason?"""
        self._blind_s = math.inf  # said once
        cells = () if raw is None else tuple((int(r), int(c)) for r, c in np.argwhere(raw > _RAW_SHORT))
        remark = Remark(What.SHORTED, cells[:1]) if len(cells) == 1 else Remark(What.UNREADABLE, cells)
        self.faults.append(remark)
        return self._now(Ask.CLEAR, ("again",), (remark,))

    def _look(self, t_s: float, conductance_s: NDArray[np.float64]) -> Now:
        """The empty mat."""
        assert self._tare is not None
        seen = self._tare.step(t_s, conductance_s)
        if seen is None:
            return self._now(Ask.CLEAR if self._standing else Ask.WAIT)
        if isinstance(seen, Standing):
            cells = frozenset(seen.cells)
            new = bool(cells - self._standing)
            self._standing |= cells
            what = What.FOOT if seen.foot else What.LEFT_LYING
            return self._now(Ask.CLEAR, remarks=(Remark(what, seen.cells),) if new else ())
        return self._begin(t_s, seen)

    def _begin(self, t_s: float, empty: Empty) -> Now:
        self._tare, self._standing = None, frozenset()
        remarks = []
        for kind, what in ((Ill.STUCK, What.STUCK), (Ill.SHORTED, What.SHORTED), (Ill.NOISY, What.NOISY)):
            cells = frozenset(c for c, ill in empty.ill.items() if ill is kind and self.ill.get(c) is not kind)
            rows, columns, rest = by_line(cells, *self._shape)
            remarks += [Remark(What.ROW, ((row, 0),)) for row in rows]
            remarks += [Remark(What.COLUMN, ((0, column),)) for column in columns]
            remarks += [Remark(what, (cell,)) for cell in rest]
        self.ill |= empty.ill
        self.faults += remarks
        useless = self.left_out
        for cell in useless:
            self.work.skip(cell)
        self._watch = LoadWatch(empty.level_s, self._per_panel, useless)
        self._since_s = t_s
        return self._now(self._wish(), ("ready",), tuple(remarks))

    def _quiet(self, t_s: float) -> Now:
        assert self._watch is not None
        step = self.work.named
        if self._watch.loaded is None and step is not None and t_s - self._since_s > _NOTHING_S:
            self._since_s = math.inf  # once a wait
            return self._now(self._wish(), ("again",), (Remark(What.NOTHING_READ, (step.cell,)),))
        return self._now(self._wish())

    def _lying(self, t_s: float, conductance_s: NDArray[np.float64]) -> Now:
        """A frame with which nothing happened: what was taken may go on lying."""
        if self._lies is not None:
            self._lies.take(t_s, conductance_s)
        if t_s < self._hold_until_s:
            return self._now(Ask.HOLD)
        if math.isinf(self._hold_until_s):
            return self._quiet(t_s)
        self._hold_until_s = -math.inf
        return self._now(self._wish(), ("tick",))

    def _wish(self) -> Ask:
        assert self._watch is not None
        step, loaded = self.work.named, self._watch.loaded
        if loaded is None:
            return Ask.DONE if step is None else Ask.PUT
        if self._again:
            return Ask.AGAIN
        if self._on_cell is None:
            return Ask.HOLD
        if step is not None and step.cell == loaded and not self._same_as_lying(step):
            if step.falling:
                return Ask.TAKE_OFF
            if step.force_n > self._on_cell.force_n:
                return Ask.ADD
        return Ask.LIFT

    def _same_as_lying(self, step: Step) -> bool:
        assert self._on_cell is not None
        return step.falling == self._on_cell.falling and same_load(step.force_n, self._on_cell.force_n)

    def _mishap(self, event: Event) -> Remark:
        what = {Seen.SLIPPED: What.SLIPPED, Seen.UNSTEADY: What.UNSTEADY, Seen.LIFTED_EARLY: What.LIFTED_EARLY}
        return Remark(what[event.seen], (event.cell,))

    def _refuse(self, remark: Remark, t_s: float) -> Now:
        self._again = self._watch is not None and self._watch.loaded is not None
        self._since_s = t_s
        return self._now(self._wish(), ("again",), (remark,))

    def _lifted(self, cell: Cell, t_s: float) -> Now:
        lying, self._on_cell, self._again = self._on_cell, None, False
        self._since_s = t_s
        if lying is not None and self.taken and self.taken[-1] is lying:
            self.taken[-1] = replace(lying, lifted_s=t_s) if self._lies is None else self._lies.lifted(t_s)
        self._hold_until_s, self._lies = -math.inf, None
        if not any(peak.cell == cell for peak in self.work.mend_ways_down()):
            return self._now(self._wish())
        # The puck was lifted on the way down. With weights that cannot be taken off one by one this goes on for ever.
        self._broken[cell] = self._broken.get(cell, 0) + 1
        if self._broken[cell] >= _BROKEN:
            self.work.leave_way_down(cell)
            self.work.skip_repeated(cell)
            return self._now(self._wish(), ("again",), (Remark(What.WAY_DOWN_LEFT, (cell,)),))
        return self._now(self._wish(), ("again",), (Remark(What.WAY_DOWN_BROKEN, (cell,)),))

    def _steady(self, reading: Reading) -> Now:
        """A load lies still: is it what was asked for, and is it to be believed?"""
        t_s = reading.t_s + reading.after_s
        if reading.elsewhere:
            return self._refuse(Remark(What.ELSEWHERE, reading.elsewhere), t_s)
        self._answered.add(reading.cell)
        step = self.work.named
        said_n = step.force_n if step is not None and not reading.stayed else math.nan
        if reading.second is not None and self._expect.share(reading, said_n) < _OWN_SHARE:
            self._answered.add(reading.second)
            return self._refuse(Remark(What.TWO_CELLS, (reading.cell, reading.second)), t_s)
        if reading.stayed:
            step = self._changed_to(reading)
        if step is None:
            return self._now(self._wish() if reading.stayed else Ask.LIFT)
        remarks = self._believed(reading, step.force_n)
        if remarks is None:
            assert self._refused is not None
            return self._refuse(self._doubt(reading, step.force_n, self._refused[3]), t_s)
        return self._take(reading, step, remarks)

    def _changed_to(self, reading: Reading) -> Step | None:
        """The step that adding or taking off where a load lies has done; None: a hand on its way."""
        step, lying = self.work.on(reading.cell), self._on_cell
        if step is None or lying is None or step.falling != reading.fell:
            return None
        return step if (step.force_n < lying.force_n) == reading.fell else None

    def _believed(self, reading: Reading, force_n: float) -> list[Remark] | None:
        """Remarks on a reading that is taken; None for one that is odd and was not so before."""
        lying = self._on_cell
        peak_n = max((lying.force_n, lying.peak_n if lying.falling else 0.0)) if lying is not None else 0.0
        odd = self._expect.judge(reading, force_n, peak_n if reading.fell else 0.0)
        before, self._refused = self._refused, None
        if odd is None:
            return []
        same = before is not None and before[0] == reading.cell and same_load(before[1], force_n)
        if same and before is not None and abs(math.log(reading.level_s / before[2])) <= _SAME_READING:
            return [Remark(What.ODD, (reading.cell,), odd)]
        self._refused = (reading.cell, force_n, reading.level_s, odd)
        return None

    def _take(self, reading: Reading, step: Step, remarks: list[Remark]) -> Now:
        """A placement is made, and what comes next is named."""
        named, force_n = self.work.named, step.force_n
        placement = self._placement(reading, force_n, step.mass_u, self._on_cell)
        if not reading.stayed:
            remarks += self._where(reading.cell, force_n)
        done = self.work.find(reading.cell, force_n, placement.falling)
        if done is not None:
            self.work.done(done)
        if any(remark.what in (What.NO_ANSWER, What.DEAD) for remark in remarks):
            self.work.pass_over(reading.cell, force_n)
        elif named is not None and named.cell != reading.cell and named in self.work.left and not reading.stayed:
            self._name_again(named)
        self.taken.append(placement)
        self._expect.learn(placement)
        self._on_cell, self._lies = placement, Lying(placement)
        hold_s = 0.0 if done is None else done.hold_s
        self._hold_until_s = placement.t_s + hold_s if hold_s else -math.inf
        self.faults += [remark for remark in remarks if remark.what in FAULTS]
        after = self.work.named
        # What is to lie on ticks when it has lain.
        signals = [] if hold_s else ["tick"]
        if after is None:
            signals.append("ready")
        elif not same_load(after.force_n, force_n):
            signals.append("change")
        return self._now(Ask.HOLD if hold_s else self._wish(), tuple(signals), tuple(remarks), placement, step.words)

    def _name_again(self, step: Step) -> None:
        """Unless hands went on elsewhere a second time: they will not come back to that cell now."""
        if any(turn[0] != step.cell for turn in self._wrong_turns[-2:]) or len(self._wrong_turns) < 2:
            self.work.name(step)

    def _doubt(self, reading: Reading, force_n: float, reads_n: float) -> Remark:
        """Why a reading is not believed at first."""
        if reads_n > force_n:
            return Remark(What.TOO_HEAVY, (reading.cell,), reads_n)
        named = self.work.named
        if named is not None and touching(named.cell, reading.cell) and not reading.stayed:
            # Only the rim of the puck is heard: the cell under it may be dead.
            return Remark(What.NO_ANSWER, (named.cell,), reads_n)
        return Remark(What.TOO_LIGHT, (reading.cell,), reads_n)

    def _placement(self, reading: Reading, force_n: float, mass_u: float, lying: Placement | None) -> Placement:
        row, column = reading.cell
        falling = reading.fell and lying is not None
        peak_n, peak_s = math.nan, 1.0
        if falling and lying is not None:
            peak_n = lying.peak_n if lying.falling else lying.force_n
            peak_s = lying.peak_s if lying.falling else reading.t_s - lying.t_s
        return Placement(
            row,
            column,
            force_n,
            reading.conductance_s,
            reading.frames,
            falling,
            math.nan if reading.stayed else reading.drift,
            mass_u=mass_u,
            peak_n=peak_n,
            peak_s=peak_s,
            t_s=reading.t_s,
            after_s=reading.after_s,
            before_s=reading.before_s,
            reading_u=reading.reading_u,
            grew=() if reading.stayed else reading.grew,
        )

    def _where(self, landed: Cell, force_n: float) -> list[Remark]:
        """What a load says that came down on another cell than the named one.

        Any order is welcome, so once is only remarked on. A second time on the same wrong cell, or the other way
        round, is how two exchanged lines look. A cell that was named twice and passed over twice gave no answer, and
        when that comes again later, it is dead.
        """
        named = self.work.named
        if named is None or landed == named.cell:
            self._proved.add(landed)
            return []
        turn = (named.cell, landed)
        proved = named.cell in self._proved or landed in self._proved
        twice = self._wrong_turns[-1:] == [turn] and named.cell not in self._passed
        if not proved and (twice or turn[::-1] in self._wrong_turns):
            known = any(f.what is What.SWAPPED and set(f.cells) == set(turn) for f in self.faults)
            return [] if known else [Remark(What.SWAPPED, turn)]
        again = any(before == named.cell for before, _ in self._wrong_turns[-1:])
        self._wrong_turns.append(turn)
        if not again or named.cell in self._answered:
            return [Remark(What.LANDED, turn)]
        self._passed[named.cell] = self._passed.get(named.cell, 0) + 1
        if self._passed[named.cell] < 2:
            return [Remark(What.NO_ANSWER, (named.cell,))]
        self.work.skip(named.cell)
        return [Remark(What.DEAD, (named.cell,))]

    def _now(
        self,
        ask: Ask,
        signals: tuple[str, ...] = (),
        remarks: tuple[Remark, ...] = (),
        taken: Placement | None = None,
        words: str = "",
    ) -> Now:
        loaded = self._watch.loaded if self._watch is not None else None
        lies_on = ask is Ask.HOLD and self._on_cell is not None
        return Now(ask, self.work.named, loaded, signals, remarks, taken, words, lies_on)
