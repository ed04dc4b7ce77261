"""Under which licences the packages stand that groundtone needs, as each says of itself where it is installed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution

_NAME = re.compile(r"[A-Za-z0-9._-]+")
_NEED = re.compile(r"extra *== *['\"]([\w-]+)['\"]")


@dataclass(frozen=True)
class Licence:
    """What a package says of itself.

    Attributes
    ----------
    wanted_by : str
        "" for what everybody needs, else the extra that brings it.
    licence : str
        "not said" where it says nothing.
    """

    name: str
    version: str
    licence: str
    wanted_by: str


def licences() -> list[Licence]:
    """Of every package that is installed for groundtone, and of those that they need in their turn, by name."""
    found: dict[str, Licence] = {}
    waiting = [("groundtone", "")]
    while waiting:
        name, extra = waiting.pop(0)
        key = re.sub(r"[-_.]+", "-", name).lower()
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue  # of an extra, or another system, that is not here
        if key in found:
            continue
        found[key] = Licence(package.metadata["Name"], package.version, _licence(package), extra)
        for need in package.requires or []:
            within = _NEED.search(need)
            # Extras of others are nothing that groundtone brings.
            if within is None or key == "groundtone":
                waiting.append((_NAME.match(need)[0], within[1] if within else extra))  # type: ignore[index]
    return sorted(found.values(), key=lambda each: (each.wanted_by, each.name.lower()))


def _licence(package: Distribution) -> str:
    told = package.metadata
    # An expression by SPDX counts most, then the classifiers; the old free field may hold a whole text.
    if expression := told.get_all("License-Expression"):
        return str(expression[0])
    classes = [
        line.split("::")[-1].strip() for line in told.get_all("Classifier") or [] if line.startswith("License ::")
    ]
    classes = [line for line in classes if line != "OSI Approved"]
    first = "\n".join(told.get_all("License") or []).strip().splitlines()[:1]
    return " and ".join(classes) or (first[0][:80] if first else "not said")
