"""A golfer's own bands: learnt from their well-struck swings, set, locked and named by the coach, moved by tightening.

They lie in the data folder, one TOML file a golfer, whose name tells nothing of theirs. `bands_for` is what every
session asks: the house's rules (a whole file rules.toml there, else the program's) with what is this golfer's own.
"""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import tomli_w

from groundtone.cue.rulebook import SOUNDS, Rulebook
from groundtone.cue.rulefile import default_rules, read_rules
from groundtone.errors import RulesError, Telling
from groundtone.files import data_folder, write_whole

SOURCES = ("learnt", "coach", "tightened")
_FOLDER = "bands"
# 1 (unnamed): toes_before held at setup too. 2: the setup has a limit of its own.
_FORMAT = 2


@dataclass(frozen=True)
class Own:
    """One limit of a golfer's own.

    Attributes
    ----------
    source : str
        One of `SOURCES`.
    swings : int
        Learnt from so many.
    middle, spread : float
        Median and robust standard deviation of those swings; NaN where it was not learnt.
    base : float
        Where tightening began; NaN where it did not.
    """

    limit: float
    source: str
    swings: int = 0
    middle: float = math.nan
    spread: float = math.nan
    base: float = math.nan


@dataclass(frozen=True)
class Personal:
    """What differs for one golfer from the program's rules. None: as the program has it."""

    golfer: str
    label: str = ""
    sound: str | None = None
    tighten: bool | None = None
    fade: bool | None = None
    on: Mapping[str, bool] = field(default_factory=dict)
    own: Mapping[str, Own] = field(default_factory=dict)
    locked: frozenset[str] = frozenset()

    def rules(self, base: Rulebook | None = None) -> Rulebook:
        """The rulebook for this golfer, on these rules or the program's.

        Raises
        ------
        RulesError
            A band or rule is not there, or a limit cannot be.
        """
        book = base or default_rules()
        book = book.with_limits({name: own.limit for name, own in self.own.items()})
        book = book.begun_at({name: own.base for name, own in self.own.items() if not math.isnan(own.base)})
        book = book.switched(**{name.replace(" ", "_"): on for name, on in self.on.items()})
        if self.tighten is not None:
            book = replace(book, tighten=replace(book.tighten, on=self.tighten))
        if self.fade is not None:
            book = replace(book, fade=replace(book.fade, on=self.fade))
        return replace(book, sound=self.sound or book.sound, locked=self.locked, label=self.label)

    def with_own(self, fresh: Mapping[str, Own]) -> Personal:
        """The same with limits replaced."""
        return replace(self, own={**self.own, **fresh})


def house_rules(folder: Path | None = None) -> Rulebook:
    """The rules for whoever has none of their own: those of a file rules.toml in the data folder, else the program's.

    Raises
    ------
    RulesError
        That file cannot be.
    """
    path = (folder or data_folder()) / "rules.toml"
    return read_rules(path) if path.exists() else default_rules()


def bands_for(golfer: str, folder: Path | None = None) -> Rulebook:
    """The rules for a golfer: the house's, with what is their own.

    Parameters
    ----------
    golfer : str
        Code name; empty: nobody was named.
    folder : Path, optional
        Instead of the user's data folder.

    Raises
    ------
    RulesError
        Their file cannot be understood.
    """
    house = house_rules(folder)
    return read_personal(golfer, folder).rules(house) if golfer else house


def path_of(golfer: str, folder: Path | None = None) -> Path:
    """The file of a golfer's own bands, there or not."""
    key = hashlib.sha256(golfer.encode("utf-8", "surrogatepass")).hexdigest()[:24]
    return (folder or data_folder()) / _FOLDER / f"{key}.toml"


def read_personal(golfer: str, folder: Path | None = None) -> Personal:
    """What is a golfer's own; nothing where there is no file.

    Raises
    ------
    RulesError
    """
    path = path_of(golfer, folder)
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return Personal(golfer)
    except (OSError, UnicodeDecodeError) as error:
        raise RulesError(f"the bands of {golfer!r} in {path} cannot be read ({error}): check the file") from error
    house = house_rules(folder)
    try:
        found = _personal(golfer, tomllib.loads(text))
        found.rules(house)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError, AttributeError, RulesError) as error:
        raise RulesError(
            f"the bands of {golfer!r} in {path} make no sense ({error}): mend the file, or 'groundtone bands forget' "
            "drops it"
        ) from error
    return found


def write_personal(personal: Personal, folder: Path | None = None) -> None:
    """Keeps what is a golfer's own.

    Raises
    ------
    RulesError
        The limits cannot be, or the file cannot be written.
    """
    personal.rules(house_rules(folder))
    path = path_of(personal.golfer, folder)
    with Telling(RulesError, f"the bands cannot be written to {path}", "check folder and disk"):
        write_whole(path, tomli_w.dumps(_table(personal)))


def forget_personal(golfer: str, folder: Path | None = None) -> bool:
    """Removes a golfer's own bands; whether there were any.

    Raises
    ------
    RulesError
        The file cannot be removed.
    """
    path = path_of(golfer, folder)
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise RulesError(f"{path} cannot be removed ({error.strerror}): close what uses it and try again") from error
    return True


def hand_on(old: str, new: str, folder: Path | None = None) -> None:
    """Gives a golfer's own bands to another code name; where that one has some already, the old ones go.

    Raises
    ------
    RulesError
    """
    if path_of(old, folder).exists() and not path_of(new, folder).exists():
        write_personal(replace(read_personal(old, folder), golfer=new), folder)
    forget_personal(old, folder)


def keep_tightened(golfer: str, book: Rulebook, folder: Path | None = None) -> bool:
    """Keeps limits that tightening has moved in a session; whether any had. Locked bands never are among them.

    Parameters
    ----------
    book : Rulebook
        As the session ended.

    Raises
    ------
    RulesError
    """
    before = read_personal(golfer, folder)
    rules = before.rules(house_rules(folder))
    fresh = {}
    for band in rules.bands():
        limit = book.band(band.name).limit
        if limit != band.limit and band.name not in before.locked:
            was = before.own.get(band.name, Own(band.limit, "tightened"))
            base = band.limit if math.isnan(was.base) else was.base
            fresh[band.name] = replace(was, limit=limit, source="tightened", base=base)
    if fresh:
        write_personal(before.with_own(fresh), folder)
    return bool(fresh)


def _table(personal: Personal) -> dict[str, Any]:
    table: dict[str, Any] = {
        "format": _FORMAT, "golfer": personal.golfer, "label": personal.label, "locked": sorted(personal.locked),
    }  # fmt: skip
    for name in ("sound", "tighten", "fade"):
        if getattr(personal, name) is not None:
            table[name] = getattr(personal, name)
    own = {
        name: {key: value for key, value in vars(one).items() if not (isinstance(value, float) and math.isnan(value))}
        for name, one in personal.own.items()
    }
    return {**table, "on": dict(personal.on), "band": own}


def _personal(golfer: str, table: Mapping[str, Any]) -> Personal:
    if table.get("format", 1) > _FORMAT:
        raise RulesError("it was written by a newer program")
    unknown = set(table) - {"format", "golfer", "label", "locked", "sound", "tighten", "fade", "on", "band"}
    if unknown:
        raise RulesError(f"{min(unknown)!r} is not known there")
    sound = table.get("sound")
    if sound is not None and sound not in SOUNDS:
        raise RulesError(f"sound is one of {', '.join(SOUNDS)}")
    switches = [table.get("tighten"), table.get("fade"), *table.get("on", {}).values()]
    if not all(value is None or isinstance(value, bool) for value in switches):
        raise RulesError("what is switched on or off is true or false")
    own = {name: Own(**entry) for name, entry in table.get("band", {}).items()}
    for name, one in own.items():
        if one.source not in SOURCES or not math.isfinite(float(one.limit)):
            raise RulesError(f"the band {name} needs a limit and where it came from")
    locked = set(table.get("locked", ()))
    if "format" not in table:
        if "toes_before" in own:
            own.setdefault("toes_setup", own["toes_before"])
        locked |= {"toes_setup"} if "toes_before" in locked else set()
    return Personal(
        golfer,
        str(table.get("label", "")),
        sound,
        table.get("tighten"),
        table.get("fade"),
        dict(table.get("on", {})),
        own,
        frozenset(locked),
    )
