"""The mat alone, from the window: what it needs for the pupil who is here goes onto it, what it noted is fetched."""

from __future__ import annotations

from typing import Any

from groundtone.app.live.from_mat import fetch
from groundtone.app.live.recording import known_golfer
from groundtone.app.live.to_mat import put
from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import WATCH
from groundtone.app.window.modes.mode import Courier, Mode, Tell
from groundtone.app.window.views import Findings, Said
from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.link.base import Gap, Stamped
from groundtone.link.lasting_link import LastingLink
from groundtone.link.talk import MessageLink
from groundtone.record.library import Library
from groundtone.wire.messages import Event


class _Once(Mode):
    """Is done before a frame is asked for, and then over."""

    purpose = WATCH

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`; what only plays a mat keeps nothing."""
        super().begin(mat, tell, courier)
        if not isinstance(mat.link, MessageLink | LastingLink):
            raise GroundtoneError("the simulated mat of the window does not work alone: plug a mat in")

    def start(self, mat: OpenMat) -> None:
        """See `Mode.start`: there is nothing to follow."""

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """See `Mode.take`."""
        return True


class OntoMat(_Once):
    """Puts onto the mat what it needs to work alone.

    Parameters
    ----------
    golfer, hand : str
        Code name of whom it is for; empty: nobody is named, and the program's own limits hold. "right", "left" or
        empty: as the library has it.
    """

    name = "onto mat"

    def __init__(self, golfer: str, hand: str = "") -> None:
        self._golfer, self._hand = golfer, hand

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        person = known_golfer(self._golfer, self._hand or None, None, lambda sentence: tell(Said(sentence, bad=True)))
        tell(Findings(self.name, tuple((sentence, False) for sentence in put(mat, person))))


class FromMat(_Once):
    """Fetches the swings that the mat noted, for whom it had been set up."""

    name = "from mat"
    fetched = False

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        with Library(data_folder()) as library:
            tell(Findings(self.name, tuple((sentence, False) for sentence in fetch(mat, library))))
        self.fetched = True

    def end(self) -> Any:
        """See `Mode.end`: whether it came to its end."""
        return self.fetched
