"""When the mat's own feet message stands in for whole frames: over a radio that does not carry them, once ready.

Whole frames show where the soles lie and what the shoes make of the film (a slow rock is enough, at any rate); from
then on twenty bytes a scan say where the pressure is. Who steps off is looked for with frames again.
"""

from __future__ import annotations

import contextlib
import hashlib
import struct
from pathlib import Path

from groundtone.engine.live import Live, LiveEngine
from groundtone.errors import GroundtoneError, LinkError, RequestError
from groundtone.files import make_folder
from groundtone.link.base import Link
from groundtone.link.lasting_link import LastingLink
from groundtone.link.talk import MessageLink
from groundtone.swing.events import Phase
from groundtone.wire.messages import Command

_CALM = (Phase.AWAY, Phase.STANDING, Phase.SETUP)
SHORT = "The radio does not carry whole frames: from now on the mat itself says where the pressure is."
NOT_ON = (
    "The radio does not carry whole frames. The mat could say itself where the pressure is: put this calibration onto "
    "it with groundtone to-mat, by cable."
)


def keep_own(folder: Path, uid: str, digest: int, profile_text: str) -> None:
    """Remembers which calibration lies on a mat."""
    with contextlib.suppress(OSError):
        make_folder(folder / "on-mats")
        (folder / "on-mats" / uid).write_text(f"{digest:08x} {_digest_of(profile_text)}", "ascii")


def own_is_on(link: MessageLink | LastingLink, folder: Path, uid: str, profile_text: str | None) -> bool:
    """The calibration in force is the one that lies on the mat, as far as this computer remembers."""
    if profile_text is None:
        return False
    try:
        kept = (folder / "on-mats" / uid).read_text("ascii")
        digest, _ = struct.unpack("<IH", link.request(Command.WHAT_IS_ON, bytes(4)))
    except (OSError, UnicodeDecodeError, GroundtoneError, struct.error):
        return False
    return kept == f"{digest:08x} {_digest_of(profile_text)}"


def _digest_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


class FeetSwitch:
    """Asks a started link for feet or frames as the session goes.

    Parameters
    ----------
    folder : Path
        Where this computer remembers what lies on mats.
    profile_text : str or None
        The calibration in force.
    """

    def __init__(
        self, link: MessageLink | LastingLink, engine: LiveEngine, folder: Path, profile_text: str | None
    ) -> None:
        self._link, self._engine = link, engine
        self._folder, self._profile_text = folder, profile_text
        self._own: bool | None = None

    @property
    def on(self) -> bool:
        """The mat tells of feet now."""
        return self._link.sends_feet

    def due(self, live: Live) -> bool:
        """Has `look` something to ask of the mat? For whoever has to stop reading from the link first."""
        link, ready = self._link, self._engine.ready
        if link.sends_feet:
            return not ready
        calm = ready and live.phase in _CALM and self._engine.panel is None and link.short_packets
        return calm and self._own is not False

    def look(self, live: Live) -> str:
        """After each frame: a sentence where something is to be told, once.

        Raises
        ------
        LinkError
        """
        if not self.due(live):
            return ""
        if self._link.sends_feet:
            self._ask(False)
            return ""
        asked = self._own is not None
        if not asked:
            self._own = own_is_on(self._link, self._folder, self._link.hello.uid, self._profile_text)
        if self._own:
            try:
                self._ask(True)
            except RequestError:
                self._own = False
        return "" if asked else SHORT if self._own else NOT_ON

    def _ask(self, feet: bool) -> None:
        try:
            self._link.feet(feet)
        except RequestError:
            raise
        except LinkError:
            # A mat that is lost just now is looked for as at any other moment, by `frames`.
            if not isinstance(self._link, LastingLink):
                raise


def switch_for(link: Link, engine: LiveEngine, folder: Path, profile_text: str | None) -> FeetSwitch | None:
    """The switch of a link that can have both, frames and feet; None: it has frames alone."""
    return FeetSwitch(link, engine, folder, profile_text) if isinstance(link, MessageLink | LastingLink) else None
