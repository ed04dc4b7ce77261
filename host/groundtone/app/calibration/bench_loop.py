"""Runs a bench procedure: frames into the guide, its signals into the sound, its placements onto the disk."""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import Enum

from groundtone.app.calibration.bench_screen import BenchScreen
from groundtone.app.json_lines import ENDS, at, frames_begin, line
from groundtone.app.mat import OpenMat
from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.guide import BenchGuide
from groundtone.calibration.guided.remarks import FAULTS, Ask, Now, remark_words
from groundtone.calibration.guided.run_log import RunLog
from groundtone.errors import GroundtoneError, LostError, sentence_of
from groundtone.link.base import Gap, Stamped
from groundtone.mat.conductance import ConductanceMeter
from groundtone.tone.output import Output

RATE_HZ = 22  # 50 and 60 Hz both turn at this rate, so that hum is told from loads
FAST_HZ = 11  # of the twin in fast time: half the work, and still ten frames a dwell

ANSWERS = {**ENDS, "s": "s", "skip": "s", "u": "u", "take back": "u"}
"""What may be answered while it runs, and the key that this stands for."""


class Ending(Enum):
    """How a run ended."""

    DONE = "done"
    STOPPED = "stopped"
    LOST = "lost"
    FILM_OVER = "film over"  # of the twin: the helper has done all that was planned


class BenchLoop:
    """One bench run on an open mat.

    Parameters
    ----------
    output : Output
        Started.
    screen : BenchScreen
        Entered.
    pressed : callable
        Gives the newest key.
    wait_s : float
        How long a lost mat is waited for, s.
    """

    def __init__(
        self,
        guide: BenchGuide,
        log: RunLog,
        output: Output,
        screen: BenchScreen,
        pressed: Callable[[], str],
        wait_s: float,
    ) -> None:
        self._guide, self._log, self._output, self._screen = guide, log, output, screen
        self._pressed, self._wait_s = pressed, wait_s
        self._disk_full = False
        self._last_s: float | None = None
        self._until_refused = False

    def run(self, opened: OpenMat, rate_hz: int, *, until_refused: bool = False) -> Ending:
        """Follows the mat until everything is taken, somebody ends it, or the mat is lost for good.

        Parameters
        ----------
        until_refused : bool
            Of the twin: the film also ends when something was refused, so that the hands can be told.
        """
        self._until_refused = until_refused
        opened.begin()
        opened.link.start(rate_hz)
        frames_begin(self._screen.console, opened.link.hello, opened.layout, rate_hz)
        try:
            return self._follow(opened)
        except LostError:
            return Ending.LOST
        except KeyboardInterrupt:
            return Ending.STOPPED
        finally:
            self._output.rest()

    def _lying(self) -> Placement | None:
        """What was taken last, as long as nobody has lifted it."""
        last = self._guide.taken[-1] if self._guide.taken else None
        return last if last is not None and math.isnan(last.lifted_s) else None

    def _follow(self, opened: OpenMat) -> Ending:
        link, meter = opened.link, ConductanceMeter(opened.layout)
        self._guide.look_again()
        for item in opened.items(self._wait_s):
            if isinstance(item, Gap):
                self._gap(item)
            if not isinstance(item, Stamped):
                self._output.drain()
                continue
            t_s = item.device_us * 1e-6
            at(self._screen.console, t_s)
            raw = item.frame.cells.reshape(opened.layout.rows, opened.layout.columns) / 2.0**link.hello.bits
            before = self._lying()
            now = self._guide.step(t_s, meter.measure(item.frame), raw)
            if before is not None and self._lying() is None and self._guide.taken[-1].t_s == before.t_s:
                self._log.lifted(self._guide.taken[-1].lifted_s, self._guide.taken[-1].grew)
            opened.took()
            self._sound(t_s, now)
            self._keep(now, opened.layout.columns_per_panel)
            self._screen.show(now)
            if self._guide.done and now.loaded is None:
                self._log.finish()
                self._output.advance(1.0)
                return Ending.DONE
            if self._key(now):
                return Ending.STOPPED
            if self._until_refused and now.ask is Ask.AGAIN:
                return Ending.FILM_OVER
            if opened.over(item):
                return Ending.FILM_OVER
        raise AssertionError("a link brings something for ever")

    def _sound(self, t_s: float, now: Now) -> None:
        passed = max(0.0, t_s - self._last_s) if self._last_s is not None else 0.0
        self._last_s = t_s
        self._output.advance(passed)
        self._output.heartbeat()
        for name in now.signals:
            self._output.signal(name)

    def _keep(self, now: Now, columns_per_panel: int) -> None:
        """Onto the disk, before anything else is asked for."""
        for remark in now.remarks:
            if remark.what in FAULTS:
                self._log.remark(remark_words(remark, columns_per_panel))
        if now.taken is None:
            return
        kept = self._log.placement(now.taken)
        if not kept and not self._disk_full:
            self._screen.note(sentence_of(GroundtoneError(self._log.trouble)), fault=True)
            self._output.signal("again")
        elif kept and self._disk_full:
            self._screen.note("The disk takes the run again: nothing was lost.")
        self._disk_full = not kept

    def _key(self, now: Now) -> bool:
        """Does what a key asks for; True ends the run."""
        match self._pressed():
            case "q":
                return True
            case "s" if now.step is not None:
                self._guide.skip()
                self._screen.note("The cell is left out.")
            case "u":
                back = self._guide.take_back()
                if back is None:
                    self._screen.note("There is nothing to take back.")
                else:
                    self._log.take_back()
                    line(self._screen.console, "seen", "taken back", row=back.row, column=back.column)
                    self._screen.note(f"Taken back: row {back.row}, column {back.column}. It is asked for again.")
        return False

    def _gap(self, gap: Gap) -> None:
        """The mat was lost, or is back: the link looks for it, and what was asked for is asked for again."""
        if gap.lost:
            self._screen.note(f"{sentence_of(LostError(gap.why))} The run goes on by itself for {self._wait_s:.0f} s.")
            return
        self._guide.look_again()
        self._output.signal("found")
        self._screen.note("The mat is back.")
