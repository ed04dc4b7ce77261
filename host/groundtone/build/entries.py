"""The entries of a mat's description: what each may be, and a table of them read with a sentence for each wrong one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, field, fields
from typing import Any

from groundtone.errors import BuildError


def within(low: float, high: float, unit: str = "", usual: float | None = None) -> Any:
    """A number; where a description made earlier does not know it yet, the usual one."""
    metadata = {"low": low, "high": high, "unit": unit}
    return field(metadata=metadata) if usual is None else field(default=usual, metadata=metadata)


def whole(low: int, high: int) -> Any:
    """A whole number."""
    return field(metadata={"low": low, "high": high, "unit": "", "whole": True})


def word(usual: str) -> Any:
    """A name in quotation marks."""
    return field(default=usual, metadata={"word": True})


def same_names(where: str, got: set[str], wanted: set[str], spare: frozenset[str] = frozenset()) -> None:
    """Refuse a table that lacks a name or has one too many; those in `spare` may be missing.

    Raises
    ------
    BuildError
        Names them.
    """
    missing, unknown = sorted(wanted - got - spare), sorted(got - wanted)
    if missing or unknown:
        parts = [f"{', '.join(names)} {what}" for names, what in ((missing, "missing"), (unknown, "unknown")) if names]
        raise BuildError(f"{where}: {'; '.join(parts)}: compare it with hardware/mats")


def section(kind: type, name: str, table: object, source: str) -> Any:
    """A table of a description as the dataclass `kind`, whose fields say what may stand there.

    Raises
    ------
    BuildError
        Names the entry that is missing, unknown, no number or outside its range.
    """
    if not isinstance(table, Mapping):
        raise BuildError(f"mat {source}: [{name}] must be a table of its own: compare it with hardware/mats")
    known = fields(kind)
    usual = frozenset(entry.name for entry in known if entry.default is not MISSING)
    same_names(f"mat {source}, [{name}]", set(table), {entry.name for entry in known}, usual)
    values: dict[str, Any] = {}
    for entry in known:
        if entry.name not in table:
            continue
        value, where = table[entry.name], f"mat {source}: {name}.{entry.name}"
        if not entry.metadata:
            values[entry.name] = _pair(value, where)
        elif entry.metadata.get("word"):
            if not isinstance(value, str):
                raise BuildError(f"{where} = {value!r}: it must be a name in quotation marks")
            values[entry.name] = value
        else:
            values[entry.name] = _number(value, where, entry.metadata)
    return kind(**values)


def _number(value: Any, where: str, may: Mapping[str, Any]) -> Any:
    low, high, only_whole = may["low"], may["high"], may.get("whole", False)
    right = type(value) is int if only_whole else type(value) in (int, float) and math.isfinite(value)
    if not (right and low <= value <= high):
        kind_of = "a whole number" if only_whole else "a number"
        raise BuildError(f"{where} = {value!r}: it must be {kind_of} from {low:g} to {high:g} {may['unit']}".rstrip())
    return value


def _pair(value: object, what: str) -> tuple[float, float]:
    if isinstance(value, list) and len(value) == 2 and all(type(v) in (int, float) and math.isfinite(v) for v in value):
        return float(value[0]), float(value[1])
    raise BuildError(f"{what} = {value!r}: it must be two numbers in brackets, one for each weight")
