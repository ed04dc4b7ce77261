"""Plain values as TOML text; the standard library only reads it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(table: Mapping[str, Any]) -> str:
    r"""A table as TOML: values first, then its tables.

    Parameters
    ----------
    table : mapping
        Texts, numbers, truth values, lists of these, and tables.

    Examples
    --------
    >>> print(toml_text({"limit": 0.64, "on": {"trail side": True}}), end="")
    limit = 0.64
    <BLANKLINE>
    [on]
    "trail side" = true
    """
    return "\n".join(_lines(table, ())) + "\n"


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    inner = {key: value for key, value in table.items() if isinstance(value, Mapping)}
    lines = [f"{_key(key)} = {_value(value)}" for key, value in table.items() if key not in inner]
    for key, value in inner.items():
        here = (*path, key)
        body = _lines(value, here)
        if not value or not all(isinstance(part, Mapping) for part in value.values()):
            lines += ["", f"[{'.'.join(map(_key, here))}]"]
        lines += body
    return lines


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    return f"[{', '.join(map(_value, value))}]"


def _text(text: str) -> str:
    # JSON escapes what TOML does, but for the one control character beyond ASCII's printable ones.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
