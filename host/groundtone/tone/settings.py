"""How a person wants the sound: the card, the level, the buffer, stereo and the slow echo, remembered in a file."""

import tomllib
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from groundtone.errors import ToneError
from groundtone.files import data_folder, write_whole
from groundtone.tone.echo import SLOWER, USUAL_SLOWER
from groundtone.tone.process import QUICK_BUFFER_MS, QUICK_PERIODS
from groundtone.tone.speech import LANGUAGES

# What each number may be, and its unit.
RANGES: dict[str, tuple[float, float, str]] = {
    "level": (0.0, 1.0, ""),
    "buffer_ms": (1, 200, " ms"),
    "periods": (1, 8, ""),
    "rate_hz": (8000, 192_000, " Hz"),
    "slower": (*SLOWER, " times"),
}


@dataclass(frozen=True)
class SoundSettings:
    """What is remembered.

    Attributes
    ----------
    device : str
        A sound card's name or a part of it; empty leaves the choice to the system.
    level : float
        0 to 1.
    buffer_ms, periods : int
        Length of one period, ms, and how many the system is asked to keep.
    rate_hz : int
        Sample rate, Hz. A card that runs at another rate gets it converted by the sound system.
    stereo : bool
        Cues stand on the sides of the feet.
    echo : bool
        The slow echo is played after a swing.
    slower : float
        How many times slower than the swing, 3 to 5.
    words : str
        Language of spoken words; empty: none are spoken.

    Raises
    ------
    ToneError
        If a value is of the wrong kind or out of range.
    """

    device: str = ""
    level: float = 1.0
    buffer_ms: int = QUICK_BUFFER_MS
    periods: int = QUICK_PERIODS
    rate_hz: int = 48000
    stereo: bool = False
    echo: bool = True
    slower: float = USUAL_SLOWER
    words: str = ""

    def __post_init__(self) -> None:
        for field in fields(self):
            _check(field.name, getattr(self, field.name), type(field.default))
        if self.words not in ("", *LANGUAGES):
            raise ToneError(f"The sound setting words is one of {', '.join(LANGUAGES)} or nothing, not {self.words!r}.")


def settings_path() -> Path:
    """Where the settings of the sound lie."""
    return data_folder() / "sound.toml"


def read_settings(path: Path | None = None) -> SoundSettings:
    """Reads what is remembered.

    Parameters
    ----------
    path : Path, optional
        Another file than `settings_path`.

    Returns
    -------
    SoundSettings
        The usual ones where nothing is remembered.

    Raises
    ------
    ToneError
        If the file cannot be read or a value in it cannot be.
    """
    path = path or settings_path()
    try:
        known: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return SoundSettings()
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as why:
        raise ToneError(
            f"The sound settings in {path} cannot be read ({why}). Mend or delete the file, or choose anew with "
            "'groundtone sound choose'."
        ) from why
    unknown = sorted(set(known) - {field.name for field in fields(SoundSettings)})
    if unknown:
        raise ToneError(f"The sound settings in {path} do not know {', '.join(unknown)}. Take it out of the file.")
    try:
        return SoundSettings(**known)
    except ToneError as why:
        raise ToneError(f"{why} Mend {path}.") from why


def write_settings(settings: SoundSettings, path: Path | None = None) -> Path:
    """Remembers settings.

    Returns
    -------
    Path
        Where they lie now.

    Raises
    ------
    ToneError
        If the file cannot be written; what was remembered before is untouched.
    """
    path = path or settings_path()
    lines = ["# How groundtone sounds; 'groundtone sound choose' writes this file."]
    lines += [f"{name} = {_toml(value)}" for name, value in asdict(settings).items()]
    try:
        write_whole(path, "\n".join(lines) + "\n")
    except OSError as why:
        raise ToneError(f"The sound settings cannot be written to {path} ({why}). Check the folder.") from why
    return path


def settings_or_usual(path: Path | None = None) -> tuple[SoundSettings, str | None]:
    """Reads what is remembered; a file that cannot be used gives a sentence and the usual settings."""
    try:
        return read_settings(path), None
    except ToneError as why:
        return SoundSettings(), f"{why} The usual sound is taken."


def _check(name: str, value: object, kind: type) -> None:
    whole = isinstance(value, int) and not isinstance(value, bool)
    fits = whole or isinstance(value, float) if kind is float else whole if kind is int else isinstance(value, kind)
    if not fits:
        words = {float: "a number", int: "a whole number", bool: "true or false", str: "text"}[kind]
        raise ToneError(f"The sound setting {name} is {words}, not {value!r}.")
    if name in RANGES:
        low, high, unit = RANGES[name]
        if not low <= value <= high:  # type: ignore[operator]
            raise ToneError(f"The sound setting {name} goes from {low:g} to {high:g}{unit}, not {value}.")


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        quoted = value.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in quoted) + '"'
    return repr(value)
