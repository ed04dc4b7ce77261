"""Every action of the window with its key and its words, as data: buttons, help and tests read this table."""

from __future__ import annotations

from dataclasses import dataclass

PLACES = ("build", "check", "practise", "review", "hand over")
"""The places in the order of the work."""


@dataclass(frozen=True)
class Key:
    """An action.

    Attributes
    ----------
    name : str
        Unique.
    key : str
        As Qt writes it: "F1", "Ctrl+Z", "B".
    place : str
        Where it works; "" everywhere.
    """

    name: str
    key: str
    words: str
    place: str = ""


KEYS: tuple[Key, ...] = (
    Key("go build", "F1", "Build"),
    Key("go check", "F2", "Check"),
    Key("go practise", "F3", "Practise"),
    Key("go review", "F4", "Review"),
    Key("go hand over", "F5", "Hand over"),
    Key("find mat", "Ctrl+M", "Look for the mat"),
    Key("simulate", "Ctrl+T", "Simulated mat"),
    Key("undo", "Ctrl+Z", "Undo"),
    Key("light or dark", "Ctrl+L", "Light or dark"),
    Key("all keys", "F10", "All keys"),
    Key("whole screen", "F11", "Whole screen"),
    Key("quit", "Ctrl+Q", "Quit"),
    # Build
    Key("watch", "W", "Watch the cells", "build"),
    Key("look empty", "E", "Look at the empty mat", "build"),
    Key("self test", "T", "Self-test", "build"),
    Key("press order", "P", "Press to find the order", "build"),
    Key("build stop", "Esc", "Stop", "build"),
    Key("cell left", "Left", "Cell to the left", "build"),
    Key("cell right", "Right", "Cell to the right", "build"),
    Key("cell up", "Up", "Cell towards the toes", "build"),
    Key("cell down", "Down", "Cell towards the heels", "build"),
    # Check
    Key("check start", "Space", "Begin the check", "check"),
    Key("check stop", "Esc", "Stop", "check"),
    Key("check again", "R", "Once more", "check"),
    # Practise
    Key("practise start", "Space", "Begin", "practise"),
    Key("practise stop", "Esc", "End and save", "practise"),
    Key("baseline", "B", "Baseline", "practise"),
    Key("drill", "D", "Drill", "practise"),
    Key("test", "E", "Test", "practise"),
    Key("purpose", "P", "On purpose, at setup", "practise"),
    Key("purpose impact", "I", "On purpose, at impact", "practise"),
    Key("guess", "G", "Guess first", "practise"),
    Key("plan", "W", "What the plan says", "practise"),
    Key("next pupil", "N", "Next pupil", "practise"),
    Key("strike undo", "U", "Strike not told", "practise"),
    Key("strike clean", "C", "Clean", "practise"),
    Key("strike thin", "T", "Thin", "practise"),
    Key("strike fat", "F", "Fat", "practise"),
    Key("strike topped", "O", "Topped", "practise"),
    Key("strike shank", "S", "Shank", "practise"),
    Key("strike left", "L", "Starts left", "practise"),
    Key("strike straight", "M", "Starts straight", "practise"),
    Key("strike right", "R", "Starts right", "practise"),
    Key("strike distance", "A", "Distance in m: digits follow", "practise"),
    Key("strike 0", "0", "Nought of a distance", "practise"),
    *(Key(f"strike {n}", str(n), f"Place {n} on the face", "practise") for n in range(1, 10)),
    # Review
    Key("open session", "O", "Open a file", "review"),
    Key("pair", "P", "The pair", "review"),
    Key("fit tone", "T", "Fit the tone", "review"),
    Key("beside", "B", "Beside or over each other", "review"),
    Key("echo", "E", "Slow echo", "review"),
    Key("frame back", "Left", "A frame back", "review"),
    Key("frame on", "Right", "A frame on", "review"),
    Key("ten back", "Shift+Left", "Ten frames back", "review"),
    Key("ten on", "Shift+Right", "Ten frames on", "review"),
    Key("event on", "Space", "To the next event", "review"),
    Key("swing up", "Up", "The swing before", "review"),
    Key("swing down", "Down", "The next swing", "review"),
    Key("second swing", "S", "This one as the second lane", "review"),
    Key("compare", "C", "Blocks compared", "review"),
    Key("progress", "G", "Progress over lessons", "review"),
    Key("note", "N", "Write a note", "review"),
    # Hand over
    Key("preview", "P", "Make the page anew", "hand over"),
    Key("save page", "S", "Save the page", "hand over"),
    Key("page folder", "D", "Another folder", "hand over"),
)

_BY_NAME = {key.name: key for key in KEYS}


def key_of(name: str) -> Key:
    """The action of a name."""
    return _BY_NAME[name]


def labelled(name: str) -> str:
    """What a button says: its words and its key.

    Examples
    --------
    >>> labelled("baseline")
    'Baseline  [B]'
    """
    key = _BY_NAME[name]
    return f"{key.words}  [{key.key}]"


def of_place(place: str) -> list[Key]:
    """The actions that work in a place, those that work everywhere last."""
    return [key for key in KEYS if key.place == place] + [key for key in KEYS if not key.place]
