"""What a practice shows at a moment: a few very large words, one sentence, and the counts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from groundtone.cue.rulefile import shown
from groundtone.engine.live import Live
from groundtone.swing.events import Phase
from groundtone.swing.summary import SwingSummary

# Loaded like this somebody stands on the mat, N.
_SOMEBODY_N = 60.0


class State(Enum):
    """What the golfer can do now."""

    STEP_ON = "step on"
    ROCK = "rock slowly"
    PLAY = "play"
    PAUSED = "paused"
    LOST = "mat lost"
    OVER = "over"

    @property
    def sentence(self) -> str:
        """What to do, in one sentence."""
        return _SENTENCES[self]


_SENTENCES = {
    State.STEP_ON: "One foot on each panel.",
    State.ROCK: "From the heels over one foot to the toes, and back over the other.",
    State.PLAY: "Hit a ball; the tick ends every swing.",
    State.PAUSED: "No sound until the pause ends; all is recorded.",
    State.LOST: "Look at the mat's power and cable; it goes on by itself when the mat is back.",
    State.OVER: "Step off.",
}


@dataclass(frozen=True)
class Counts:
    """Of the swings so far.

    Attributes
    ----------
    swings, inside : int
        All, and those in which no cue was heard.
    told, centre : int
        Strikes that were told with a place, and those inside the centre circle.
    """

    swings: int = 0
    inside: int = 0
    told: int = 0
    centre: int = 0


@dataclass(frozen=True)
class Now:
    """One moment of a practice.

    Attributes
    ----------
    words : str
        A few large words: what to do, or what sounds.
    last : SwingSummary or None
        The last swing that ended.
    told : str
        What was told of its strike, in words; empty: nothing.
    live : Live or None
        The newest frame.
    """

    state: State
    words: str
    sentence: str
    counts: Counts
    last: SwingSummary | None = None
    told: str = ""
    live: Live | None = None


def sounding(live: Live) -> list[str]:
    """Names of the cues that sound with a frame, in words."""
    return [shown(cue) for cue in live.sizes]


def state_of(live: Live | None, *, ready: bool, lost: bool, paused: bool, over: bool) -> State:
    """What the golfer can do, from the newest frame and what has happened."""
    if over:
        return State.OVER
    if lost:
        return State.LOST
    if paused:
        return State.PAUSED
    if live is None or live.feet.total_n < _SOMEBODY_N:
        return State.STEP_ON
    if not ready:
        return State.ROCK
    return State.PLAY


def words_of(state: State, live: Live | None, told: str) -> str:
    """The large words: a cue that sounds, else what was just told of a strike, else the state."""
    if state is State.PLAY and live is not None:
        if cues := sounding(live):
            return " + ".join(cues)
        if told and live.phase in (Phase.STANDING, Phase.AWAY):
            return told
    return state.value
