"""The pupil whose lesson it is, as told in the window."""

from __future__ import annotations

from dataclasses import dataclass, field

from groundtone.cue.bands import Bands


@dataclass
class Pupil:
    """One pupil at a time.

    Attributes
    ----------
    name : str
        Code name; empty: nobody is named.
    hand : str
        "right", "left"; empty: as the library has it.
    club, lie, drill : str
    bands : Bands or None
        Fitted in this lesson; None: the pupil's own.
    paths : list of str
        Recordings of this lesson.
    """

    name: str = ""
    hand: str = ""
    club: str = ""
    lie: str = ""
    drill: str = ""
    bands: Bands | None = None
    paths: list[str] = field(default_factory=list)
