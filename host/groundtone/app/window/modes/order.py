"""Press to find the wiring order: rows are stroked as asked, and what is wired wrong is named."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from groundtone.app.window.mats import ORDER, OpenMat
from groundtone.app.window.modes.mode import Courier, Mode, Tell
from groundtone.app.window.views import CellsView, Findings, Wanted
from groundtone.build.asking import Ask
from groundtone.build.commission import as_built
from groundtone.build.commission_steps import Bench, Listener, idle_step, press_step
from groundtone.build.diagnosis import diagnose
from groundtone.build.evidence import reading_of
from groundtone.link.base import Gap, Stamped
from groundtone.wire.messages import Event


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
