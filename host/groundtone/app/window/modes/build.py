"""The modes of Build: the cells watched, and the order of the wires found.

Watching tells what each cell reads now, which are ill on an empty mat, and what the mat finds out by itself; for the
order rows are stroked as asked, and what is wired wrong is named.
"""

from __future__ import annotations

import math
from collections import deque
from typing import Any

import numpy as np

from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import ORDER, WATCH
from groundtone.app.window.modes.mode import Courier, Mode, Tell
from groundtone.app.window.views import CellsView, Findings, Said, Wanted
from groundtone.build.asking import Ask
from groundtone.build.commission import as_built
from groundtone.build.commission_steps import Bench, Listener, idle_step, press_step
from groundtone.build.diagnosis import diagnose
from groundtone.build.evidence import reading_of
from groundtone.errors import GroundtoneError, sentence_of
from groundtone.link.base import Gap, Stamped
from groundtone.mat.conductance import CellFault, ConductanceMeter, faults_when_empty
from groundtone.wire.codec import findings_from
from groundtone.wire.findings import faults, is_fault, sentence
from groundtone.wire.messages import Command, Event

# So many frames of the empty mat are looked at, after the first ones, in which the drivers are found.
LOOK_FRAMES, _SPARE = 100, 20
# The conductance at which a dot has its full area, S: a heel of a heavy person on the reference film (invented scale).
FULL_S = 2e-4
# An empty cell that reads this part of the range is joined.
_JOINED = 0.10
_WORDS = {
    "shorted": "is shorted: look for solder, a strand, or strips that touch",
    "stuck": "conducts without a load: look for a pressed pad or a short",
    "noisy": "is noisy: mend its joint",
}


class Watch(Mode):
    """Watches the cells until it is stopped; "look empty" and "self test" are its commands."""

    name, purpose, rate_hz = "watch", WATCH, 100

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        self._mat = mat
        self._meter = ConductanceMeter(mat.layout)
        self._times: deque[float] = deque(maxlen=200)
        self._missed = 0
        self._looked: list[tuple[np.ndarray, np.ndarray]] | None = None

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """See `Mode.take`."""
        if not isinstance(item, Stamped):
            return False
        siemens = self._meter.measure(item.frame)
        self._times.append(item.device_us * 1e-6)
        self._missed += item.missed
        layout = self._mat.layout
        reading = layout.to_places(item.frame.cells.reshape(layout.rows, layout.columns).astype(np.float64))
        if self._looked is not None:
            self._looked.append((siemens, reading))
            if len(self._looked) >= LOOK_FRAMES + _SPARE:
                self._judge()
        if self.courier.free:
            level = np.clip(np.nan_to_num(siemens) / FULL_S, 0.0, 1.0)
            self.courier.give(CellsView(level, reading, siemens, self._rate(), self._missed))
        return False

    def command(self, name: str, value: Any) -> None:
        """See `Mode.command`."""
        if name == "look empty":
            self._looked = []
            self.tell(Said("Keep off the mat for two seconds.", about="empty"))
        elif name == "self test":
            self.errand = self._self_test

    def _rate(self) -> float:
        span = self._times[-1] - self._times[0] if len(self._times) > 1 else 0.0
        return (len(self._times) - 1) / span if span > 0 else math.nan

    def _judge(self) -> None:
        assert self._looked is not None
        looked, self._looked = self._looked[_SPARE:], None
        whole = [siemens for siemens, _ in looked if np.isfinite(siemens).all()]
        if len(whole) >= LOOK_FRAMES // 2:
            found = faults_when_empty(np.stack(whole))
        else:
            # The readings belong to no network: something is joined outright, and its reading stands out.
            level = np.median([reading for _, reading in looked], axis=0) / (1 << self._mat.link.hello.bits)
            found = [CellFault(int(r), int(c), "shorted") for r, c in zip(*np.nonzero(level > _JOINED), strict=True)]
        width = self._mat.layout.columns_per_panel
        sentences = []
        for cell in found:
            panel = "left" if cell.column < width else "right"
            place = f"{panel.capitalize()} panel, row {cell.row}, column {cell.column % width}"
            sentences.append((f"{place} {_WORDS[cell.what]}.", True))
        if not found and len(whole) < LOOK_FRAMES // 2:
            sentences = [("The readings make no sense: run the self-test.", True)]
        elif not found:
            sentences = [("No cell is stuck or noisy. A dead one shows only when it is pressed.", False)]
        self.tell(Findings("empty", tuple(sentences), {(c.row, c.column): c.what for c in found}))

    def _self_test(self) -> None:
        """Asks the mat; its frames have been taken no more."""
        link = self._mat.link
        try:
            self._mat.rest()
            link.stop()
            found = findings_from(link.request(Command.SELF_TEST))
        except GroundtoneError as error:
            self.tell(Findings("self test", ((sentence_of(f"the self-test could not be run: {error}"), True),)))
        else:
            bits = link.hello.bits
            wrong = [(text, True) for text in faults(found, bits)]
            figures = [(sentence(f, bits), False) for f in found if not is_fault(f)]
            fine = [] if wrong else [("The mat finds nothing wrong with itself.", False)]
            self.tell(Findings("self test", tuple(wrong + fine + figures)))


class Order(Mode):
    """The empty mat, then every row of both panels; ends by itself."""

    name, purpose, rate_hz = "order", ORDER, 25

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        self._mat = mat
        self._bench = Bench(as_built(mat.layout))
        self._steps: list[Listener] = [idle_step(self._bench), press_step(self._bench)]
        self._ask: Ask | None = next(self._steps[0])
        self._asked, self._whole = 0, 1 + 2 * mat.layout.rows
        self._done = False

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """See `Mode.take`."""
        if not isinstance(item, Stamped):
            return False
        hello = self._mat.link.hello
        if self._ask is not None:
            again = " Nothing was felt: once more." if self._ask.again else ""
            self._asked += not self._ask.again
            words = self._ask.words.split(":")[0] if self._ask.do else "keep off"
            self.tell(Wanted(words, self._ask.words + again, min(1.0, (self._asked - 1) / self._whole)))
            self._mat.do(self._ask.do)
        reading = reading_of(item.frame, item.device_us * 1e-6, hello.rows, hello.bits, item.missed)
        if self.courier.free:
            cells = self._mat.layout.to_places(reading.cells)
            raw = cells * (1 << hello.bits)
            self.courier.give(CellsView(np.clip(cells / 0.3, 0, 1), raw, np.full_like(cells, math.nan)))
        try:
            self._ask = self._steps[0].send(reading)
        except StopIteration:
            self._steps.pop(0)
            if not self._steps:
                self._done = True
                return True
            self._ask = next(self._steps[0])
        return False

    def end(self) -> Any:
        """See `Mode.end`: whether all rows were asked for; what is wrong is told before."""
        if self._done:
            self.tell(Findings("order", tuple(self._sentences())))
        return self._done

    def _sentences(self) -> list[tuple[str, bool]]:
        found = diagnose(self._bench.evidence, self._bench.layout)
        out = [(" ".join(filter(None, (fault.sentence, fault.remedy))), True) for fault in found.faults]
        out += [(text, True) for text in found.untested]
        return out or [("Every row and column lies where the plan says.", False)]
