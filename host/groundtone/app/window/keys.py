"""Every action of the window with its key and its words, as data: buttons, help and tests read this table."""

from __future__ import annotations

from dataclasses import dataclass

from groundtone.app.language import tr

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


def strike_keys(place: str) -> tuple[Key, ...]:
    """The keys that tell a strike, the same wherever one can be told or mended."""
    words = (("undo", "U", "Not told"), ("clean", "C", "Clean"), ("thin", "T", "Thin"), ("fat", "F", "Fat"),
             ("topped", "O", "Topped"), ("shank", "S", "Shank"), ("left", "L", "Starts left"),
             ("straight", "M", "Starts straight"), ("right", "R", "Starts right"),
             ("distance", "A", "Distance in m: digits follow"), ("0", "0", "Nought of a distance"))  # fmt: skip
    fields = tuple(Key(f"{place} {n}", str(n), f"Place {n} on the face", place) for n in range(1, 10))
    return (*(Key(f"{place} {name}", key, text, place) for name, key, text in words), *fields)


KEYS: tuple[Key, ...] = (
    Key("go pupils", "F6", "Pupils"),
    Key("go build", "F1", "Build"),
    Key("go check", "F2", "Check"),
    Key("go practise", "F3", "Practise"),
    Key("go review", "F4", "Review"),
    Key("go hand over", "F5", "Hand over"),
    Key("find mat", "Ctrl+M", "Look for the mat"),
    Key("simulate", "Ctrl+T", "Simulated mat"),
    Key("undo", "Ctrl+Z", "Undo"),
    Key("light or dark", "Ctrl+L", "Light or dark"),
    # Named after the other language, in its own words.
    Key("language", "Ctrl+G", "Deutsch"),
    Key("all keys", "F10", "All keys"),
    Key("whole screen", "F11", "Whole screen"),
    Key("quit", "Ctrl+Q", "Quit"),
    # Build
    Key("watch", "W", "Watch the cells", "build"),
    Key("look empty", "E", "Look at the empty mat", "build"),
    Key("self test", "T", "Self-test", "build"),
    Key("press order", "P", "Press to find the order", "build"),
    Key("onto mat", "M", "Put onto the mat", "build"),
    Key("from mat", "F", "Fetch from the mat", "build"),
    Key("build stop", "Esc", "Stop", "build"),
    Key("cell left", "Left", "Cell to the left", "build"),
    Key("cell right", "Right", "Cell to the right", "build"),
    Key("cell up", "Up", "Cell towards the toes", "build"),
    Key("cell down", "Down", "Cell towards the heels", "build"),
    # Check
    Key("check start", "Space", "Begin the check", "check"),
    Key("check stop", "Esc", "Stop", "check"),
    Key("check again", "R", "Once more", "check"),
    # Pupils
    Key("pupil start", "Return", "Start", "pupils"),
    Key("pupil practise", "Ctrl+Return", "Practise at once", "pupils"),
    Key("walk-in", "Alt+W", "Walk-in", "pupils"),
    Key("search", "/", "Search", "pupils"),
    Key("rename", "Alt+R", "Rename", "pupils"),
    Key("merge", "Alt+M", "Merge with", "pupils"),
    Key("erase", "Alt+E", "Erase", "pupils"),
    Key("name session", "Alt+N", "Name it", "pupils"),
    Key("lessons", "Alt+L", "Lessons", "pupils"),
    Key("back up", "Alt+B", "Back up", "pupils"),
    Key("restore", "Alt+I", "Bring in", "pupils"),
    # Practise
    Key("practise go", "Space", "Begin", "practise"),
    Key("practise end", "End", "End and save", "practise"),
    Key("baseline", "B", "Baseline", "practise"),
    Key("drill", "D", "Drill", "practise"),
    Key("test", "E", "Test", "practise"),
    Key("purpose", "P", "On purpose, at setup", "practise"),
    Key("purpose impact", "I", "On purpose, at impact", "practise"),
    Key("purpose height", "H", "Low and high on the face", "practise"),
    Key("guess", "G", "Guess first", "practise"),
    Key("asked line", "Y", "Asked: heel to toe", "practise"),
    Key("asked order", "X", "Order: random", "practise"),
    Key("good one", "V", "Echo, then your good one", "practise"),
    Key("guess trail", "-", "The pupil says: trail side", "practise"),
    Key("guess lead", "+", "The pupil says: lead side", "practise"),
    Key("remote next", "PgDown", "A remote's forward button", "practise"),
    Key("remote back", "PgUp", "A remote's back button", "practise"),
    Key("plan", "W", "What the plan says", "practise"),
    Key("in turn", "Z", "Blocks in turn", "practise"),
    Key("next pupil", "N", "Next pupil", "practise"),
    Key("practise up", "Up", "A later swing", "practise"),
    Key("practise down", "Down", "An earlier swing", "practise"),
    *strike_keys("practise"),
    # Review
    Key("open session", "Ctrl+O", "Open a file", "review"),
    Key("one swing", "W", "One swing", "review"),
    Key("pair", "P", "The pair", "review"),
    Key("compare", "K", "Blocks", "review"),
    Key("progress", "G", "Progress", "review"),
    Key("feel", "H", "Feel and plan", "review"),
    Key("set proposed", "J", "Set the proposed band", "review"),
    Key("new plan", "D", "Make a plan", "review"),
    Key("fit tone", "Return", "Fit the tone", "review"),
    Key("beside", "B", "Over each other", "review"),
    Key("echo", "E", "Slow echo", "review"),
    Key("frame back", "Left", "A frame back", "review"),
    Key("frame on", "Right", "A frame on", "review"),
    Key("ten back", "Shift+Left", "Ten frames back", "review"),
    Key("ten on", "Shift+Right", "Ten frames on", "review"),
    Key("event on", "Space", "To the next event", "review"),
    Key("swing up", "Up", "The swing above", "review"),
    Key("swing down", "Down", "The swing below", "review"),
    Key("second swing", "V", "Second lane", "review"),
    Key("note", "N", "Note", "review"),
    Key("call fault", "X", "Call it a fault", "review"),
    Key("delete empty", "Del", "Delete this empty session", "review"),
    *strike_keys("review"),
    # Hand over
    Key("preview", "P", "Make the page anew", "hand over"),
    Key("save page", "S", "Save the page", "hand over"),
    Key("open page", "O", "Open", "hand over"),
    Key("print page", "Ctrl+P", "Print", "hand over"),
    Key("copy card", "C", "Copy the card", "hand over"),
    Key("show folder", "F", "Show the folder", "hand over"),
    Key("page folder", "D", "Another folder", "hand over"),
)

_BY_NAME = {key.name: key for key in KEYS}


def key_of(name: str) -> Key:
    """The action of a name."""
    return _BY_NAME[name]


def labelled(name: str) -> str:
    """An action in a sentence: its words and its key.

    Examples
    --------
    >>> labelled("baseline")
    'Baseline  [B]'
    """
    key = _BY_NAME[name]
    return f"{tr(key.words)}  [{tr(key.key)}]"


def of_place(place: str) -> list[Key]:
    """The actions that work in a place, those that work everywhere last."""
    return [key for key in KEYS if key.place == place] + [key for key in KEYS if not key.place]
