"""The sound of a procedure: the sound card live, nothing heard where the twin runs faster than time."""

from __future__ import annotations

from groundtone.app.guarded import GuardedOutput
from groundtone.app.opening import TwinChoice
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth


def sound_for(twin: TwinChoice | None) -> GuardedOutput:
    """A player that is not yet started; its failure ends the sound and not the procedure."""
    if twin is not None and twin.fast:
        return GuardedOutput(OfflinePlayer(Synth()))
    return GuardedOutput(Player(Synth()))
