"""Records a session that runs: what the loop brings goes to the recorder, and the recorder's thread is held here."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from pathlib import Path

from groundtone.engine.live import Live
from groundtone.errors import LostError, RecordError
from groundtone.link.base import Gap, Stamped
from groundtone.record.recorder import Recorder, begin
from groundtone.record.session import About
from groundtone.swing.events import Swing
from groundtone.swing.summary import SwingSummary
from groundtone.wire.messages import Event, EventCode

# Frames between two looks at the queue where no thread writes: half the queue at most waits.
_PUMP_EVERY = 100


class SessionLog:
    """Writes down what a session's loop brings.

    Parameters
    ----------
    pump : bool
        True where no thread works for the recorder: its queue is then emptied every so many frames.
    """

    def __init__(self, recorder: Recorder, *, pump: bool) -> None:
        self.recorder = recorder
        self._pump = pump
        self._frames = 0
        self._sounding: set[str] = set()

    @property
    def trouble(self) -> RecordError | None:
        """Why nothing is recorded any more, if so."""
        return self.recorder.trouble

    def frame(self, item: Stamped) -> None:
        """A frame, before anything is made of it."""
        if item.missed:
            self.recorder.event("gap", number=item.missed)
        self.recorder.frame(item)
        self._frames += 1
        if self._pump and self._frames % _PUMP_EVERY == 0:
            self.recorder.pump()

    def event(self, event: Event) -> None:
        """What the mat told unasked."""
        names = {code.value: code.name.lower().replace("_", " ") for code in EventCode}
        self.recorder.event(names.get(event.code, f"event {event.code}"), event.text)

    def live(self, live: Live) -> None:
        """Cues that begin or end with this frame, and signals."""
        for cue in self._sounding - set(live.sizes):
            self.recorder.heard(cue, False, 0.0)
        for cue, size in live.sizes.items():
            if cue not in self._sounding:
                self.recorder.heard(cue, True, size)
        self._sounding = set(live.sizes)
        for name in live.signals:
            self.recorder.heard(name, True)

    def swing(self, swing: Swing, summary: SwingSummary) -> None:
        """A swing that has ended."""
        self.recorder.swing(
            {
                "number": summary.number,
                "takeaway_s": swing.takeaway.t_s,
                "turn_s": swing.turn.t_s if swing.turn else None,
                "top_s": swing.top.t_s if swing.top else None,
                "impact_s": swing.impact.t_s if swing.impact else None,
                "impact_source": swing.impact.source if swing.impact else None,
                "end_s": swing.end_s,
                "share_setup": summary.share_setup,
                "share_top": summary.share_top,
                "share_impact": summary.share_impact,
                "position_setup": summary.position_setup,
                "position_impact": summary.position_impact,
                "heard": [list(part) for part in swing.heard],
            }
        )

    def gap(self, gap: Gap) -> None:
        """The mat was lost, or was found again; the frames go on in this recording."""
        if gap.lost:
            self.lost(LostError(gap.why))
        else:
            self.recorder.event("found again", gap.why)

    def lost(self, why: Exception) -> None:
        """The mat was lost."""
        for cue in sorted(self._sounding):
            self.recorder.heard(cue, False, 0.0)
        self._sounding.clear()
        self.recorder.event("lost", str(why))


@contextlib.contextmanager
def recording(path: Path, about: About, *, threaded: bool) -> Iterator[SessionLog]:
    """A recording under way, ended in order whatever happens.

    Parameters
    ----------
    threaded : bool
        A thread writes beside the loop, so that a slow disk holds nothing up; otherwise the loop writes, as suits a
        session that is faster than time.

    Raises
    ------
    RecordError
        The file cannot be made.
    """
    recorder = begin(path, about)
    worker = threading.Thread(target=recorder.work, name="recorder", daemon=True) if threaded else None
    if worker is not None:
        worker.start()
    try:
        yield SessionLog(recorder, pump=not threaded)
    finally:
        recorder.end_work()
        if worker is not None:
            worker.join()
        recorder.close()
