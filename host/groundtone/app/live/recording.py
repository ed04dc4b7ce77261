"""Records a session that runs: what the loop brings goes to the recorder, and the recorder's thread is held here."""

from __future__ import annotations

import contextlib
import datetime
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from groundtone.cue.live import Live
from groundtone.errors import GroundtoneError, LostError
from groundtone.files import data_folder
from groundtone.link.base import Gap, Stamped
from groundtone.record.contents import put
from groundtone.record.errors import MissingError, RecordError
from groundtone.record.library import Library, check_name
from groundtone.record.reader import open_recording
from groundtone.record.recorder import Recorder, begin
from groundtone.record.session import SILENT_BLOCKS, About, Block, Golfer
from groundtone.swing.events import Swing
from groundtone.swing.summary import SwingSummary
from groundtone.wire.messages import Event, EventCode

# Frames between two looks at the queue where no thread writes: half the queue at most waits.
_PUMP_EVERY = 100


class SessionLog:
    """Writes down what a session's loop brings.

    Parameters
    ----------
    recorder : Recorder
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
        for cue, size in live.sizes.by_name().items():
            if (size > 0) != (cue in self._sounding):
                self._sounding ^= {cue}
                self.recorder.heard(cue, size > 0, size)
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
    path : Path
    about : About
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


def recordings_folder() -> Path:
    """Where recordings lie when no other place is named."""
    return data_folder() / "recordings"


def new_recording_path(about: About) -> Path:
    """The file of a new recording: its time and a part of its id; no name of a golfer."""
    when = datetime.datetime.fromisoformat(about.started)
    return recordings_folder() / f"{when:%Y-%m-%d-%H%M%S}-{about.session[:8]}.mcap"


@dataclass(frozen=True)
class Wish:
    """How a session is to be recorded.

    Attributes
    ----------
    record : bool
        False: not at all.
    golfer : str
        Code name; empty: nobody is named.
    block : str
        See `groundtone.record.session.BLOCK_KINDS`; baseline and test are silent.
    club, lie : str
    usual_m : float or None
    """

    record: bool = True
    golfer: str = ""
    block: str = "free"
    club: str = ""
    lie: str = ""
    usual_m: float | None = None

    def first_block(self) -> Block:
        """The block with which the session begins."""
        cues = self.block not in SILENT_BLOCKS
        return Block(1, self.block, self.club, self.lie, self.usual_m, cues)


def known_golfer(name: str, hand: str | None, shoe_mm: float | None) -> Golfer:
    """The golfer as the library knows them, else a new one; what was told now counts more.

    Raises
    ------
    LibraryError
        The library cannot be read, or the name will not do.
    """
    if not name:
        return Golfer("", hand or "right", None, shoe_mm)
    check_name(name)
    with Library(data_folder()) as library:
        golfer = library.golfer(name) if library.knows(name) else Golfer(name)
    return replace(golfer, hand=hand or golfer.hand, shoe_mm=shoe_mm if shoe_mm is not None else golfer.shoe_mm)


def into_library(path: Path) -> str:
    """Puts a recording that has ended into the user's library; a sentence where that failed, else empty.

    What failed is no loss: the recording is there, and the library can be made anew from it.
    """
    # The review needs half a second to be imported: a golfer on the mat must not wait for it.
    from groundtone.review.library_rows import analysed

    try:
        recorded = open_recording(path)
        swings, doubts = analysed(recorded)
        with Library(data_folder()) as library:
            put(library, recorded, swings, doubts)
    except MissingError as error:
        return str(error)
    except GroundtoneError as error:
        return f"{error}; the session is in {path} all the same, and 'groundtone library rebuild' puts it in later"
    return ""
