"""What a recording says of its session: the mat, the golfer, the settings in force, the blocks; to JSON and back."""

from __future__ import annotations

import datetime
import math
import uuid
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from groundtone.errors import GroundtoneError, LibraryError, OtherFileError, RecordError
from groundtone.mat.layout import PANELS
from groundtone.record.channels import FORMAT, MARK
from groundtone.wire.messages import Hello

BLOCK_KINDS = ("baseline", "drill", "test", "free", "purpose", "guess", "retention")
"""What a block of swings is for; "free" is practice without a plan, "purpose" does what is asked for, in "guess" the
golfer says where it was before anything tells, "retention" is a test some days later."""
SILENT_BLOCKS = ("baseline", "test", "purpose", "guess", "retention")
"""Blocks in which no cue sounds: they show what the golfer does alone."""
WALK_IN = "walk-in"
"""So begins the lesson of somebody whom nobody has named: each is one of its own."""
LIES = ("mat", "turf", "tee", "")
"""Where the ball lies; empty: not told."""


@dataclass(frozen=True)
class Golfer:
    """A golfer; the code name is enough.

    Attributes
    ----------
    name : str
        Code name; any characters, at most 100, not only blanks. Empty: nobody was named.
    hand : str
        "right" or "left".
    """

    name: str = ""
    hand: str = "right"
    mass_kg: float | None = None
    shoe_mm: float | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        if self.hand not in ("right", "left"):
            raise RecordError(f"the hand {self.hand!r} is unknown: say right or left")
        if len(self.name) > 100:
            raise RecordError("a golfer's code name has more than 100 characters: choose a shorter one")
        for number, low, high, what in ((self.mass_kg, 5, 400, "mass, kg"), (self.shoe_mm, 100, 400, "shoe, mm")):
            if number is not None and not low <= number <= high:
                raise RecordError(f"a golfer's {what}, is {number:g}: give a number from {low} to {high}")


@dataclass(frozen=True)
class Block:
    """Swings that belong together.

    Attributes
    ----------
    number : int
        Counts from 1 in a recording.
    kind : str
        One of `BLOCK_KINDS`.
    lie : str
        One of `LIES`.
    usual_m : float or None
        The golfer's usual distance with this club, m.
    cues : bool
        Whether the cues sounded; baseline and test are silent.
    device_us : int
        Device time from which on it holds, µs.
    """

    number: int = 1
    kind: str = "free"
    club: str = ""
    lie: str = ""
    usual_m: float | None = None
    cues: bool = True
    device_us: int = 0

    def __post_init__(self) -> None:
        if self.kind not in BLOCK_KINDS:
            raise RecordError(f"the block {self.kind!r} is unknown: say one of {', '.join(BLOCK_KINDS)}")
        if self.lie not in LIES:
            raise RecordError(f"the lie {self.lie!r} is unknown: say one of {', '.join(filter(None, LIES))}")
        if self.usual_m is not None and not 0 < self.usual_m < 1000:
            raise RecordError(f"a usual distance of {self.usual_m:g} m will not do: give one above 0 and below 1000")


@dataclass(frozen=True)
class Settings:
    """What was in force, as plain tables; `groundtone.review.settings` makes them and says what they mean.

    Attributes
    ----------
    stance : mapping
        Empty: the usual one.
    bands : mapping of str to value
        Empty: the program's own.
    panel : int or None
        The one panel that was there, LEFT or RIGHT; None: both.
    rules : mapping or None
        All rules of the cues; None in recordings that carry the bands alone.
    """

    stance: Mapping[str, Any] = field(default_factory=dict)
    rate_hz: float = 100.0
    shoe_mm: float | None = None
    bands: Mapping[str, Any] = field(default_factory=dict)
    panel: int | None = None
    rules: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class About:
    """Everything that is known when a recording begins.

    Attributes
    ----------
    hello : Hello
        What the mat said of itself.
    profile_text : str or None
        The whole text of the mat's profile; None where there was none.
    session : str
        Unique id.
    started : str
        ISO 8601 with the offset to UTC.
    lesson : str
        Recordings of one golfer with the same lesson belong together; without one, the day it is.
    """

    hello: Hello
    settings: Settings = field(default_factory=Settings)
    golfer: Golfer = field(default_factory=Golfer)
    block: Block = field(default_factory=Block)
    profile_text: str | None = None
    session: str = field(default_factory=lambda: uuid.uuid4().hex)
    started: str = field(default_factory=lambda: datetime.datetime.now().astimezone().isoformat(timespec="seconds"))
    lesson: str = ""
    program: str = "groundtone"
    simulated: bool = False

    def lesson_name(self) -> str:
        """The lesson it belongs to: as told, or its day; a walk-in who was named later belongs to that day's lesson."""
        named_later = self.golfer.name and self.lesson.startswith(WALK_IN)
        return self.started[:10] if named_later else self.lesson or self.started[:10]


def session_table(about: About) -> dict[str, Any]:
    """The session message."""
    return {
        MARK: FORMAT,
        "session": about.session,
        "started": about.started,
        "program": about.program,
        "lesson": about.lesson,
        "simulated": about.simulated,
        "hello": asdict(about.hello),
    }


def settings_table(settings: Settings) -> dict[str, Any]:
    """The settings message."""
    table = asdict(settings)
    del table["panel"], table["rules"]
    if settings.panel is not None:
        table["panel"] = PANELS[settings.panel]
    if settings.rules is not None:
        table["rules"] = settings.rules
    return table


def about_from(session: Mapping[str, Any]) -> About:
    """What a session message says.

    Raises
    ------
    OtherFileError
        It is of a newer format.
    RecordError
        It lacks what it needs.
    """
    version = session.get(MARK)
    if type(version) is int and version > FORMAT:
        raise OtherFileError("it was written by a newer program: bring this one up to date")
    try:
        hello = dict(session["hello"])
        hello["version"] = tuple(hello["version"])
        return About(
            Hello(**hello),
            session=str(session["session"]),
            started=str(session["started"]),
            lesson=str(session.get("lesson", "")),
            program=str(session["program"]),
            simulated=bool(session.get("simulated", False)),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise RecordError(f"what it says of its session cannot be understood ({error})") from error


def settings_from(table: Mapping[str, Any]) -> Settings:
    """Settings from their message; what it does not know is left at its default.

    Raises
    ------
    RecordError
        A value makes no sense.
    """
    try:
        stance, bands = dict(table["stance"]), dict(table.get("bands", {}))
        if stance:
            numbers = [float(v) for v in (stance["width_mm"], stance["offset_mm"], *stance["flare_deg"])]
            if len(numbers) != 4 or not all(map(math.isfinite, numbers)) or numbers[0] <= 0:
                raise ValueError("the stance")
        shoe, panel, rules = table.get("shoe_mm"), table.get("panel"), table.get("rules")
        return Settings(
            stance,
            float(table["rate_hz"]),
            None if shoe is None else float(shoe),
            bands,
            None if panel is None else PANELS.index(panel),
            None if rules is None else dict(rules),
        )
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise RecordError(f"the settings in force cannot be understood ({error})") from error


def golfer_from(table: Mapping[str, Any]) -> Golfer:
    """A golfer from the message; RecordError where it makes no sense."""
    golfer: Golfer = _known(Golfer, table)
    return golfer


def block_from(table: Mapping[str, Any]) -> Block:
    """A block from its message; RecordError where it makes no sense."""
    block: Block = _known(Block, table)
    return block


def check_name(name: str) -> None:
    """LibraryError where a code name will not do."""
    if not name.strip():
        raise LibraryError("a golfer needs a code name: give a word or two")
    try:
        name.encode()
    except UnicodeEncodeError as error:
        raise LibraryError("the code name holds half a character: write it anew") from error
    if "\0" in name:
        raise LibraryError("the code name holds a character without a shape (a zero): write it anew")


def renamed(golfer: Golfer, name: str) -> Golfer:
    """The same golfer under another name."""
    return replace(golfer, name=name)


def _known(kind: Any, table: Mapping[str, Any]) -> Any:
    try:
        return kind(**{name: value for name, value in table.items() if name in kind.__annotations__})
    except GroundtoneError:
        raise
    except (TypeError, ValueError) as error:
        raise RecordError(f"a message of kind {kind.__name__.lower()} makes no sense ({error})") from error
