"""What is a golfer's own: bands learnt from their well-struck swings, set, locked and named by the coach, or tightened.

By class of clubs too, where one has limits of its own; what the coach calls a fault in this golfer's swing, stance and
flare, and which of two styles is theirs (of the reverse one the trail side's part at impact is off).

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
from groundtone.swing.clubs import CLUBS, club_class

SOURCES = ("learnt", "coach", "tightened")
STYLES = ("front foot", "reverse")
"""Two published styles, neither an error in itself (Ball and Best, J. Sports Sci. 2007)."""
_MORE = ("style", "style_from", "faults", "stance_mm", "flare_deg", "club", "undo")
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


Limits = Mapping[str, Mapping[str, Own | None]]
"""By class of clubs ("" for all), by band; None: none of their own there."""


@dataclass(frozen=True)
class Personal:
    """What differs for one golfer from the program's rules. None: as the program has it.

    Attributes
    ----------
    own : mapping
        Limits by band.
    clubs : mapping
        Limits by band that hold with one class of clubs, by that class; the others there are those of `own`.
    style, style_from : str
        One of `STYLES`; who says so: "coach" or "learnt".
    faults : frozenset of str
        Findings that the coach calls a fault in this golfer's swing.
    stance_mm, flare_deg : float, (float, float), or None
        Between the panels' centres; left and right panel, toes outward positive.
    undo : mapping
        What `exchange` took the place of the last time; see `Limits`.
    """

    golfer: str
    label: str = ""
    sound: str | None = None
    tighten: bool | None = None
    fade: bool | None = None
    on: Mapping[str, bool] = field(default_factory=dict)
    own: Mapping[str, Own] = field(default_factory=dict)
    locked: frozenset[str] = frozenset()
    clubs: Mapping[str, Mapping[str, Own]] = field(default_factory=dict)
    style: str = ""
    style_from: str = ""
    faults: frozenset[str] = frozenset()
    stance_mm: float | None = None
    flare_deg: tuple[float, float] | None = None
    undo: Limits = field(default_factory=dict)

    def limits(self, club: str = "") -> dict[str, Own]:
        """The limits of this golfer's own with a club: those of its class, else those for all."""
        return {**self.own, **self.clubs.get(club_class(club), {})}

    def rules(self, base: Rulebook | None = None, club: str = "") -> Rulebook:
        """The rulebook for this golfer with a club, on these rules or the program's. Putts have no cue after the setup.

        Raises
        ------
        RulesError
            A band or rule is not there, or a limit cannot be.
        """
        book = base or default_rules()
        limits = self.limits(club)
        book = book.with_limits({name: own.limit for name, own in limits.items()})
        book = book.begun_at({name: own.base for name, own in limits.items() if not math.isnan(own.base)})
        book = book.switched(**{name.replace(" ", "_"): on for name, on in self.on.items()})
        if self.tighten is not None:
            book = replace(book, tighten=replace(book.tighten, on=self.tighten))
        if self.fade is not None:
            book = replace(book, fade=replace(book.fade, on=self.fade))
        if self.style == "reverse":
            book = book.without_impact("trail side")
        return replace(
            book, sound=self.sound or book.sound, locked=self.locked, label=self.label,
            setup_only=book.setup_only or club_class(club) == "putter",
        )  # fmt: skip

    def with_own(self, fresh: Mapping[str, Own], kind: str = "") -> Personal:
        """The same with limits replaced; of one class of clubs, where `kind` names it."""
        if not kind:
            return replace(self, own={**self.own, **fresh})
        return replace(self, clubs={**self.clubs, kind: {**self.clubs.get(kind, {}), **fresh}})


def house_rules(folder: Path | None = None) -> Rulebook:
    """The rules for whoever has none of their own: those of a file rules.toml in the data folder, else the program's.

    Raises
    ------
    RulesError
        That file cannot be.
    """
    path = (folder or data_folder()) / "rules.toml"
    return read_rules(path) if path.exists() else default_rules()


def bands_for(golfer: str, folder: Path | None = None, *, club: str = "") -> Rulebook:
    """The rules for a golfer: the house's, with what is their own.

    Parameters
    ----------
    golfer : str
        Code name; empty: nobody was named.
    folder : Path, optional
        Instead of the user's data folder.
    club : str
        As it was written down; what is theirs with its class of clubs counts first.

    Raises
    ------
    RulesError
        Their file cannot be understood.
    """
    personal = read_personal(golfer, folder) if golfer else Personal("")
    return personal.rules(house_rules(folder), club)


def called_faults(golfer: str, folder: Path | None = None) -> frozenset[str]:
    """The findings that the coach calls a fault in this golfer's swing; none where nobody is named."""
    return read_personal(golfer, folder).faults if golfer else frozenset()


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
        _check(found, house)
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
    _check(personal, house_rules(folder))
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


def exchange(golfer: str, limits: Limits, folder: Path | None = None) -> Limits:
    """Puts limits in force, or none of their own where there is None; what was there, which puts it back.

    Raises
    ------
    RulesError
        The limits cannot be, or the file cannot be read or written.
    """
    was = read_personal(golfer, folder)
    before: dict[str, dict[str, Own | None]] = {}
    after = was
    for kind, fresh in limits.items():
        there = after.clubs.get(kind, {}) if kind else after.own
        before[kind] = {band: there.get(band) for band in fresh}
        left = {band: own for band, own in there.items() if band not in fresh}
        own = {**left, **{band: value for band, value in fresh.items() if value is not None}}
        after = replace(after, clubs={**after.clubs, kind: own}) if kind else replace(after, own=own)
    write_personal(replace(after, undo=before), folder)
    return before


def keep_tightened(golfer: str, book: Rulebook, folder: Path | None = None, *, club: str = "") -> bool:
    """Keeps limits that tightening has moved in a session; whether any had. Locked bands never are among them.

    What is their own with the club's class stays that class's.

    Parameters
    ----------
    book : Rulebook
        As the session ended.

    Raises
    ------
    RulesError
    """
    before = read_personal(golfer, folder)
    rules, limits, kind = before.rules(house_rules(folder), club), before.limits(club), club_class(club)
    fresh: dict[str, dict[str, Own]] = {}
    for band in rules.bands():
        limit = book.band(band.name).limit
        if limit != band.limit and band.name not in before.locked:
            was = limits.get(band.name, Own(band.limit, "tightened"))
            base = band.limit if math.isnan(was.base) else was.base
            where = kind if band.name in before.clubs.get(kind, {}) else ""
            fresh.setdefault(where, {})[band.name] = replace(was, limit=limit, source="tightened", base=base)
    after = before
    for where, moved in fresh.items():
        after = after.with_own(moved, where)
    if fresh:
        write_personal(after, folder)
    return bool(fresh)


def _check(personal: Personal, house: Rulebook) -> None:
    """RulesError where the limits, the style or the stance cannot be."""
    for club in ("", *personal.clubs):
        personal.rules(house, club)
    if personal.style not in ("", *STYLES):
        raise RulesError(f"a style is {' or '.join(STYLES)}, not {personal.style!r}")
    numbers = [*(personal.flare_deg or ()), *([] if personal.stance_mm is None else [personal.stance_mm])]
    if not all(map(math.isfinite, numbers)) or any(abs(flare) > 60 for flare in personal.flare_deg or ()):
        raise RulesError("a stance is a width in mm, and feet flare by 60 degrees at most")
    if personal.stance_mm is not None and not 100 <= personal.stance_mm <= 900:
        raise RulesError(f"a stance of {personal.stance_mm:g} mm will not do: give 100 to 900")


def _table(personal: Personal) -> dict[str, Any]:
    table: dict[str, Any] = {
        "format": _FORMAT, "golfer": personal.golfer, "label": personal.label, "locked": sorted(personal.locked),
    }  # fmt: skip
    for name in ("sound", "tighten", "fade"):
        if getattr(personal, name) is not None:
            table[name] = getattr(personal, name)
    for key, value in (("style", personal.style), ("style_from", personal.style_from),
                       ("faults", sorted(personal.faults)), ("stance_mm", personal.stance_mm),
                       ("flare_deg", list(personal.flare_deg or ()))):  # fmt: skip
        if value:
            table[key] = value
    clubs = {kind: _limits_table(limits) for kind, limits in personal.clubs.items() if limits}
    if personal.undo:
        table["undo"] = {
            kind or "all": {band: _limits_table({band: own})[band] if own else {} for band, own in limits.items()}
            for kind, limits in personal.undo.items()
        }
    return {**table, "on": dict(personal.on), "band": _limits_table(personal.own), **({"club": clubs} if clubs else {})}


def _limits_table(limits: Mapping[str, Own]) -> dict[str, Any]:
    return {
        name: {key: value for key, value in vars(one).items() if not (isinstance(value, float) and math.isnan(value))}
        for name, one in limits.items()
    }


def _personal(golfer: str, table: Mapping[str, Any]) -> Personal:
    if table.get("format", 1) > _FORMAT:
        raise RulesError("it was written by a newer program")
    unknown = set(table) - {"format", "golfer", "label", "locked", "sound", "tighten", "fade", "on", "band", *_MORE}
    if unknown:
        raise RulesError(f"{min(unknown)!r} is not known there")
    sound = table.get("sound")
    if sound is not None and sound not in SOUNDS:
        raise RulesError(f"sound is one of {', '.join(SOUNDS)}")
    switches = [table.get("tighten"), table.get("fade"), *table.get("on", {}).values()]
    if not all(value is None or isinstance(value, bool) for value in switches):
        raise RulesError("what is switched on or off is true or false")
    own = _limits_from(table.get("band", {}))
    clubs = {kind: _limits_from(limits) for kind, limits in table.get("club", {}).items()}
    if set(clubs) - set(CLUBS):
        raise RulesError(f"a class of clubs is one of {', '.join(CLUBS)}")
    flare = tuple(float(value) for value in table.get("flare_deg", ()))
    stance = table.get("stance_mm")
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
        clubs,
        str(table.get("style", "")),
        str(table.get("style_from", "")),
        frozenset(map(str, table.get("faults", ()))),
        None if stance is None else float(stance),
        (flare[0], flare[1]) if flare else None,
        {
            "" if kind == "all" else kind: {name: Own(**entry) if entry else None for name, entry in limits.items()}
            for kind, limits in table.get("undo", {}).items()
        },
    )


def _limits_from(table: Mapping[str, Any]) -> dict[str, Own]:
    limits = {name: Own(**entry) for name, entry in table.items()}
    for name, one in limits.items():
        if one.source not in SOURCES or not math.isfinite(float(one.limit)):
            raise RulesError(f"the band {name} needs a limit and where it came from")
    return limits
