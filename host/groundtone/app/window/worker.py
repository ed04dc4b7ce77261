"""The one worker that owns the link: it follows a mat in a thread of its own and tells the window plain data.

Commands come through a queue and are looked at after every frame, so that none waits longer than a frame or, on a
silent mat, than `PATIENCE_S`. Pictures are told only when the window has taken the one before, so that a window that
is held up (dragged, behind another) never makes the worker wait and never drowns in old pictures.
"""

from __future__ import annotations

import contextlib
import importlib
import math
import queue
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from PyQt5.QtCore import QObject, pyqtSignal

from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import MatChoice
from groundtone.app.window.modes.mode import Courier, Mode
from groundtone.app.window.views import Ended, MatState, Said
from groundtone.errors import GroundtoneError, LostError, sentence_of
from groundtone.link.base import PATIENT_LOST_S, Gap, Stamped
from groundtone.link.following import until_lost

if TYPE_CHECKING:
    from groundtone.tone.output import Output

import threading

from groundtone.link.base import Link

PATIENCE_S = 0.02
_WARM_AFTER_S = 0.4


class Worker(QObject):
    """Lives in a thread of its own; `work` runs until `close`.

    Parameters
    ----------
    choice : MatChoice or None
        Which mat; None: none has been chosen.
    """

    told = pyqtSignal(object)
    """`views`: MatState, Said, Findings, Wanted, Verdict, Ended and what the modes define."""
    picture = pyqtSignal(object)
    """What is drawn sixty times a second."""

    def __init__(self, choice: MatChoice | None = None) -> None:
        super().__init__()
        self._choice = choice
        self._commands: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._next: Mode | None = None
        self._sound: Output | None = None
        self._warm = False
        self._here: tuple[str, str, str, bool] = ("", "", "", False)
        self.courier = Courier(self.picture.emit)

    # Called from any thread

    @property
    def choice(self) -> MatChoice | None:
        """The mat that is worked with."""
        return self._choice

    def choose(self, choice: MatChoice | None) -> None:
        """Works with this mat from the next thing on that is begun."""
        self._commands.put(("choose", choice))

    def begin(self, mode: Mode) -> None:
        """Ends what is being done and begins this."""
        self._commands.put(("begin", mode))

    def command(self, name: str, value: Any = None) -> None:
        """Something for the mode that runs."""
        self._commands.put((name, value))

    def stop(self) -> None:
        """Ends what is being done."""
        self._commands.put(("stop", None))

    def close(self) -> None:
        """Ends all; `work` returns."""
        self._commands.put(("close", None))

    # In the worker's thread

    def work(self) -> None:
        """Does what is asked, one thing at a time."""
        while True:
            mode, self._next = self._next, None
            if mode is not None:
                if not self._follow(mode):
                    return
                continue
            name, value = self._waited()
            if name == "close":
                self._silence()
                return
            self._idle(name, value)

    def _waited(self) -> tuple[str, Any]:
        """The next command; whoever waits for the first one a while imports what the modes need meanwhile."""
        if not self._warm:
            try:
                return self._commands.get(timeout=_WARM_AFTER_S)
            except queue.Empty:
                self._warm = True
                for name in ("practise", "check", "build"):
                    importlib.import_module(f"groundtone.app.window.modes.{name}")
        return self._commands.get()

    def _idle(self, name: str, value: Any) -> None:
        if name == "choose":
            self._choice = value
        elif name == "begin":
            self._silence()
            self._next = value
        elif name == "echo":
            self._echo(value)

    def _echo(self, path: Any) -> None:
        """Plays the slow echo of a recorded swing; while a practice runs, that has the sound."""
        try:
            if self._sound is None:
                self._sound = echo_output(self._choice, lambda text: self._say(Said(text, bad=True)))
                self._sound.start()
            # Nothing is to be watched over here: an echo needs no frames.
            self._sound.rest()
            self._sound.echo(path)
            self._say(Said("The slow echo of this swing sounds."))
        except GroundtoneError as error:
            self._say(Said(_sentence(error), bad=True))

    def _silence(self) -> None:
        if self._sound is not None:
            self._sound.close()
            self._sound = None

    def _follow(self, mode: Mode) -> bool:
        """One mode from its beginning to its end; False where the window closes."""
        going = True
        try:
            if self._choice is None:
                raise GroundtoneError("no mat is chosen: plug one in and look for it, or take the simulated one")
            self._say(MatState("looking", "Looking for the mat."))
            with mode.opened(self._choice, self._say) as mat:
                hello = mat.link.hello
                self._here = here = (
                    "simulated mat" if mat.simulated else hello.name,
                    hello.uid,
                    hello.layout,
                    mat.simulated,
                )
                try:
                    mode.begin(mat, self._say, self.courier)
                    self._say(MatState("running", "", *here, mode.name))
                    going = self._run(mode, mat)
                finally:
                    with contextlib.suppress(GroundtoneError):
                        mat.rest()
                        mat.link.stop()
                    self._say(Ended(mode.name, mode.end()))
            self._say(MatState("there", "", *here))
        except LostError as error:
            self._say(MatState("lost", _sentence(error), *self._here, mode.name))
        except GroundtoneError as error:
            self._say(MatState("none", _sentence(error), mode=mode.name))
        except Exception as error:
            # Whatever it was, the window goes on and what was recorded is on the disk.
            self._say(MatState("none", f"The program failed here ({type(error).__name__}: {error}): begin again."))
        return going

    def _run(self, mode: Mode, mat: OpenMat) -> bool:
        """The mode's frames; True where it has ended, False where the window closes."""
        while True:
            mat.begin()
            mode.start(mat)
            with self._items(mat) as items:
                answer = self._listen(mode, mat, items)
            if answer is not None:
                return answer
            # The frames have stopped: the mode has something to ask of the mat itself.
            errand, mode.errand = mode.errand, None
            if errand is not None:
                errand()

    @contextlib.contextmanager
    def _items(self, mat: OpenMat) -> Iterator[Iterator[Any]]:
        if mat.fast:
            yield mat.link.frames(PATIENCE_S)
            return
        with read_ahead(mat.link, PATIENCE_S) as items:
            yield items

    def _listen(self, mode: Mode, mat: OpenMat, items: Iterator[Any]) -> bool | None:
        """Until the mode ends (True), the window closes (False), or the mode has an errand (None)."""
        # The link looks for the mat by itself, as long as it takes. A simulated one waits for the machine.
        lost_s = PATIENT_LOST_S if mat.simulated else mat.lost_s
        for item in until_lost(items, math.inf, PATIENCE_S, lost_s):
            if isinstance(item, Gap):
                state, why = ("lost", item.why) if item.lost else ("running", "")
                self._say(MatState(state, why, *self._here, mode.name))
            if mode.take(item):
                return True
            if isinstance(item, Stamped):
                mat.took()
            if isinstance(item, Stamped) and mat.over(item):
                self._say(Said("The simulated person has gone: begin again."))
                return True
            answer = self._look_at_commands(mode)
            if answer is not None:
                return answer
            if mode.errand is not None:
                return None
        return True

    def _look_at_commands(self, mode: Mode) -> bool | None:
        """None: go on; True: this mode ends; False: the window closes."""
        while not self._commands.empty():
            name, value = self._commands.get()
            if name == "close":
                return False
            if name == "stop":
                return True
            if name in ("begin", "choose"):
                self._idle(name, value)
                if name == "begin":
                    return True
                continue
            mode.command(name, value)
        return None

    def _say(self, what: Any) -> None:
        self.told.emit(what)


def echo_output(choice: MatChoice | None, say: Callable[[str], None]) -> Output:
    """What plays an echo outside a practice: the remembered sound card, nothing heard on a twin faster than time."""
    from groundtone.app.tones.sounding import GuardedOutput, session_output

    fast = choice is not None and choice.twin is not None and choice.twin.fast
    return GuardedOutput(session_output(fast, say=say))


def _sentence(error: GroundtoneError) -> str:

    return sentence_of(error)


# Ten seconds at 200 frames a second; beyond that the reading waits, and the mat skips and counts.
_MOST = 2000
_LOOK_S = 0.05


@contextlib.contextmanager
def read_ahead(link: Link, patience_s: float) -> Iterator[Iterator[Any]]:
    """What `link.frames` brings, read ahead; the thread has ended when the context has.

    Parameters
    ----------
    link : Link
        Nobody else may use it until then.
    patience_s : float
        None is brought whenever nothing has come for so long.
    """
    waiting: queue.Queue[tuple[str, Any]] = queue.Queue(_MOST)
    ended = threading.Event()

    def put(what: tuple[str, Any]) -> None:
        while not ended.is_set():
            try:
                waiting.put(what, timeout=_LOOK_S)
                return
            except queue.Full:
                continue

    def read() -> None:
        try:
            for item in link.frames(patience_s):
                if ended.is_set():
                    return
                put(("item", item))
            put(("over", None))
        except BaseException as error:
            put(("error", error))

    def items() -> Iterator[Any]:
        while True:
            kind, what = waiting.get()
            if kind == "error":
                raise what
            if kind == "over":
                return
            yield what

    thread = threading.Thread(target=read, name="link", daemon=True)
    thread.start()
    try:
        yield items()
    finally:
        ended.set()
        thread.join()
