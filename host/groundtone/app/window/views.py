"""What the worker tells the window: plain data, never an object with a life."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundtone.lesson.outside import Outside
from groundtone.review.strikes import Strike

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MatState:
    """How it stands with the mat.

    Attributes
    ----------
    state : str
        "none", "looking", "there", "running", "lost".
    sentence : str
        For a person: what is so, and what to do where something is wrong.
    mode : str
        What runs on it, where something does.
    """

    state: str
    sentence: str
    name: str = ""
    uid: str = ""
    layout_id: str = ""
    simulated: bool = False
    mode: str = ""


@dataclass(frozen=True)
class CellsView:
    """The mat's cells, newest frame.

    Attributes
    ----------
    level : ndarray, shape (rows, columns)
        0 to 1: what the dots' areas follow.
    reading : ndarray, shape (rows, columns)
        Raw, 0 to 2**bits - 1, where the cells lie on the mat.
    siemens : ndarray, shape (rows, columns)
        Conductance, S; NaN where it is not known.
    rate_hz : float
        Frames that came in the last second.
    """

    level: Array
    reading: Array
    siemens: Array
    rate_hz: float = math.nan
    missed: int = 0


@dataclass(frozen=True)
class Said:
    """A sentence from what is going on.

    Attributes
    ----------
    bad : bool
        Something is wrong.
    about : str
        "self test", "empty", "order", "check", "practise" …: where it is shown.
    """

    text: str
    bad: bool = False
    about: str = ""


@dataclass(frozen=True)
class Findings:
    """What a look at the mat has found.

    Attributes
    ----------
    sentences : tuple of (str, bool)
        Each with whether it is bad.
    ill : dict
        (row, column) to one word.
    """

    about: str
    sentences: tuple[tuple[str, bool], ...]
    ill: dict[tuple[int, int], str] = field(default_factory=dict)


@dataclass(frozen=True)
class Wanted:
    """What a person on the mat is to do now.

    Attributes
    ----------
    words, sentence : str
        A few large words, and one sentence.
    progress : float
        Of the whole, 0 to 1.
    """

    words: str
    sentence: str
    progress: float
    steps: tuple[str, ...] = ()
    at: int = -1


@dataclass(frozen=True)
class Verdict:
    """What a check came to.

    Attributes
    ----------
    words : str
        "ready", "ready with correction", "not fit", or "no verdict".
    value : int
        0, 1, 2; 3 without a verdict.
    sentences : tuple of (str, bool)
    worth : tuple of (str, str, str)
        What today's numbers are worth: a measure, how good it is, and what follows.
    """

    words: str
    value: int
    figures: str
    sentences: tuple[tuple[str, bool], ...]
    worth: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Ended:
    """The worker has ended what it did.

    Attributes
    ----------
    result : Any
        Plain data of that mode.
    """

    mode: str
    result: Any = None


@dataclass(frozen=True)
class PractiseView:
    """A practice at a moment, with the frames since the last picture.

    Attributes
    ----------
    t_s, share, overall, trail_out, toes_out : ndarray, shape (n,)
        Device time, s; lead share; heel-toe position; whether each of the two main cues sounds.
    sizes : dict of str to float
        Size of each cue by its name.
    counts : (int, int, int, int)
        Swings, with the tick alone, strikes told with a place, inside the centre circle.
    told : str
        The last swing's strike in words.
    strike : Strike
        The same as it was told.
    limits : (float, float)
        Of the lead share and of the heel-toe position, as they sound now.
    block_words, block_swings, outside
        The block that runs, in words; its swings, and how many of them left a band, heard or not.
    rows : tuple of LiveSwing
        All swings so far, oldest first.
    blocks : tuple of (str, Outside)
        Every block with swings so far.
    silent : bool
        No cue sounds for the pupil; `sizes` are then what would sound.
    guessing : bool
        The pupil is asked where it was: the swing is not among `rows` yet.
    """

    t_s: Array
    share: Array
    overall: Array
    trail_out: Array
    toes_out: Array
    words: str
    sentence: str
    state: str
    sizes: dict[str, float]
    block: str
    counts: tuple[int, int, int, int]
    told: str
    strike: Strike
    swings: int
    limits: tuple[float, float]
    block_words: str = ""
    block_swings: int = 0
    outside: Outside | None = None
    rows: tuple[LiveSwing, ...] = ()
    blocks: tuple[tuple[str, Outside], ...] = ()
    silent: bool = False
    guessing: bool = False


@dataclass(frozen=True)
class LiveSwing:
    """A swing of the practice that runs: its block, what was told, and which bands it left, heard or not."""

    number: int
    block: str
    strike: Strike
    out: tuple[str, ...]
    ball: bool = True


@dataclass(frozen=True)
class Moment:
    """An event of the swing under way, for a tick across the live lane."""

    t_s: float
    word: str


@dataclass(frozen=True)
class Saved:
    """A practice has been saved.

    Attributes
    ----------
    path : str
        Empty where nothing was recorded.
    lines : tuple of str
        What it amounts to.
    key : str
        Of the pupil, see `places.pupil`.
    """

    path: str
    golfer: str
    lines: tuple[str, ...]
    swings: int = 0
    key: str = ""
