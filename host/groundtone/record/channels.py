"""The channels of a recording: their numbers, topics and JSON schemas. RECORDING.md says what they mean.

The numbers are part of the format: a file whose channel records are damaged is read by them.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any

FORMAT = 1
"""Version of the format; a reader refuses newer ones."""

PROFILE = "groundtone"
"""Profile in the MCAP header."""

MARK = "groundtone recording"
"""Key of the session message whose value is `FORMAT`: what has it is ours, whatever the header says."""


class Channel(IntEnum):
    """Channel numbers."""

    FRAME = 1
    SESSION = 2
    PROFILE = 3
    SETTINGS = 4
    GOLFER = 5
    BLOCK = 6
    EVENT = 7
    HEARD = 8
    SWING = 9
    STRIKE = 10
    NOTE = 11
    FEEL = 12
    FEET = 13


@dataclass(frozen=True)
class ChannelSpec:
    """One channel.

    Attributes
    ----------
    encoding : str
        "json", or "groundtone-wire" for messages of firmware/WIRE.md.
    required : tuple of str
        Keys that every message has.
    properties : dict
        JSON schema of the keys.
    """

    id: Channel
    topic: str
    encoding: str = "json"
    required: tuple[str, ...] = ()
    properties: dict[str, Any] = field(default_factory=dict)

    def schema(self) -> bytes:
        """The JSON schema as bytes."""
        content = {
            "title": self.topic,
            "type": "object",
            "properties": self.properties,
            "required": list(self.required),
        }
        return json.dumps(content).encode()


_NUMBER: dict[str, Any] = {"type": ["number", "null"]}
_TEXT: dict[str, Any] = {"type": "string"}
_TEXT_OR_NONE: dict[str, Any] = {"type": ["string", "null"]}
_YES: dict[str, Any] = {"type": "boolean"}
_COUNT: dict[str, Any] = {"type": "integer"}
_TABLE: dict[str, Any] = {"type": "object"}

SPECS: tuple[ChannelSpec, ...] = (
    ChannelSpec(Channel.FRAME, "frame", "groundtone-wire"),
    ChannelSpec(
        Channel.SESSION,
        "session",
        required=(MARK, "session", "started", "program", "hello"),
        properties={
            MARK: _COUNT,
            "session": _TEXT,
            "started": _TEXT,
            "program": _TEXT,
            "lesson": _TEXT,
            "hello": _TABLE,
            "simulated": _YES,
        },
    ),
    ChannelSpec(Channel.PROFILE, "profile", required=("text",), properties={"text": _TEXT_OR_NONE}),
    ChannelSpec(
        Channel.SETTINGS,
        "settings",
        required=("stance", "rate_hz"),
        properties={"stance": _TABLE, "rate_hz": _NUMBER, "shoe_mm": _NUMBER, "bands": _TABLE, "rules": _TABLE},
    ),
    ChannelSpec(
        Channel.GOLFER,
        "golfer",
        required=("name",),
        properties={"name": _TEXT, "hand": _TEXT, "mass_kg": _NUMBER, "shoe_mm": _NUMBER, "notes": _TEXT},
    ),
    ChannelSpec(
        Channel.BLOCK,
        "block",
        required=("number", "kind", "cues"),
        properties={
            "number": _COUNT,
            "kind": _TEXT,
            "club": _TEXT,
            "lie": _TEXT,
            "usual_m": _NUMBER,
            "cues": _YES,
            "device_us": _COUNT,
        },
    ),
    ChannelSpec(
        Channel.EVENT,
        "event",
        required=("what", "device_us"),
        properties={"what": _TEXT, "device_us": _COUNT, "text": _TEXT, "number": _NUMBER},
    ),
    ChannelSpec(
        Channel.HEARD,
        "heard",
        required=("sound", "on", "device_us"),
        properties={"sound": _TEXT, "on": _YES, "size": _NUMBER, "device_us": _COUNT},
    ),
    ChannelSpec(
        Channel.SWING,
        "swing",
        required=("number", "takeaway_s"),
        properties={
            "number": _COUNT,
            "takeaway_s": _NUMBER,
            "turn_s": _NUMBER,
            "impact_s": _NUMBER,
            "end_s": _NUMBER,
        },
    ),
    ChannelSpec(
        Channel.STRIKE,
        "strike",
        required=("id",),
        properties={"id": _TEXT, "impact_s": _NUMBER, "undone": _YES},
    ),
    ChannelSpec(
        Channel.FEEL,
        "feel",
        required=("id", "what", "place", "device_us"),
        properties={
            "id": _TEXT,
            "what": _TEXT,
            "place": _TEXT,
            "moment": _TEXT,
            "position": _NUMBER,
            "share": _NUMBER,
            "how": _TEXT,
            "impact_s": _NUMBER,
            "device_us": _COUNT,
        },
    ),
    ChannelSpec(Channel.FEET, "feet", "groundtone-wire"),
    ChannelSpec(Channel.NOTE, "note", required=("text",), properties={"text": _TEXT, "device_us": _COUNT}),
)


def without_nan(value: Any) -> Any:
    """The same without NaN and numpy's numbers, which JSON does not know."""
    match value:
        case dict():
            return {str(name): without_nan(part) for name, part in value.items()}
        case list() | tuple():
            return [without_nan(part) for part in value]
        case bool() | int() | str() | None:
            return value
    number = float(value)
    return number if math.isfinite(number) else None
