"""Where each place lives: imported when it is first shown, so that the window is there at once."""

from __future__ import annotations

import importlib

from groundtone.app.window.places.place import Common, Place

_HOMES = {
    "pupils": "groundtone.app.window.places.pupils:PupilsPlace",
    "build": "groundtone.app.window.places.build:BuildPlace",
    "check": "groundtone.app.window.places.check:CheckPlace",
    "practise": "groundtone.app.window.places.practise:PractisePlace",
    "review": "groundtone.app.window.places.review:ReviewPlace",
    "hand over": "groundtone.app.window.places.hand_over:HandOverPlace",
}


def made(name: str, common: Common) -> Place:
    """A place of a name, new."""
    module, kind = _HOMES[name].split(":")
    place: Place = getattr(importlib.import_module(module), kind)(common)
    return place
