"""Sound cards: which there are, for the check of the machine and for the choice by name."""

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import miniaudio

from groundtone.errors import ToneError

# What the libraries offer when there is nothing to hear with: ALSA's and miniaudio's own stand-ins.
_NOT_HEARD = ("discard all samples", "null playback device")


@dataclass(frozen=True)
class SoundCard:
    """A device that can be heard.

    Attributes
    ----------
    name : str
        Its name in the system.
    system : str
        The sound system that offers it, such as ALSA or Core Audio.
    handle : object
        What miniaudio knows it by.
    """

    name: str
    system: str
    handle: Any


@contextlib.contextmanager
def quiet_stderr() -> Iterator[None]:
    """Keeps the sound system's own remarks off the screen: ALSA prints thirty lines where there is no card."""
    try:
        saved = os.dup(2)
    except OSError:  # a window without a console has no such output to keep quiet
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        os.close(nowhere)


def heard(name: str) -> bool:
    """Tells whether a device of this name can be heard.

    Parameters
    ----------
    name : str
        A device's name.

    Returns
    -------
    bool
        False for the stand-ins that discard every sample.
    """
    return not name.lower().startswith(_NOT_HEARD)


def list_devices() -> list[SoundCard]:
    """Lists the sound cards; an empty list where there is none, or no sound system at all.

    Returns
    -------
    list of SoundCard
    """
    with quiet_stderr():
        try:
            devices = miniaudio.Devices()
            if devices.backend == "Null":
                return []
            return [SoundCard(d["name"], devices.backend, d["id"]) for d in devices.get_playbacks() if heard(d["name"])]
        except miniaudio.MiniaudioError:
            return []


def choose(cards: list[SoundCard], wanted: str | None) -> SoundCard | None:
    """Chooses a sound card.

    Parameters
    ----------
    cards : list of SoundCard
        What there is.
    wanted : str or None
        A name or a part of one, capitals do not matter; None leaves the choice to the system.

    Returns
    -------
    SoundCard or None
        None where the choice is the system's.

    Raises
    ------
    ToneError
        If no name, or more than one, fits.
    """
    if wanted is None:
        return None
    fits = [c for c in cards if c.name.lower() == wanted.lower()]
    fits = fits or [c for c in cards if wanted.lower() in c.name.lower()]
    if len(fits) != 1:
        names = ", ".join(f"{c.name!r}" for c in cards) or "none"
        how_many = "No" if not fits else "More than one"
        raise ToneError(f"{how_many} sound card's name fits {wanted!r}. Sound cards here: {names}.")
    return fits[0]
