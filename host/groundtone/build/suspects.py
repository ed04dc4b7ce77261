"""Which single wrong part explains all readings best, and which after it: every part with every value of the bag."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from groundtone.build.eseries import E12
from groundtone.build.soldered import Observed, Soldered

BAG_OHM = (1.0, 10.0, 100.0, 220.0, 820.0, 1e3, 4.7e3, 1e4, 1e5, 1e6, math.inf)
"""What a builder's bag holds; beside it a bridge of solder, and a joint that is open."""
SERIES_OHM = tuple(m * d for d in (10.0, 100.0, 1e3, 1e4, 1e5) for m in E12)
"""What shops hold (E12): tried where nothing of the bag explains the readings."""
PRICE, RARE_PRICE = 12.0, 20.0
"""A fault must explain so much misfit; one with a value that is not in the bag more."""
EQUAL = 5.0
"""Explanations that differ by less in misfit are not told apart."""
MOST_FAULTS = 6

Part = tuple[str, int]
"""A part's field in `Soldered` and its line, 0 where there is one only."""
_SINGLE = ("reference", "upper", "lower")
_WIRES = ("tap", "zero", "multiplexer")


@dataclass(frozen=True)
class Wrong:
    """One part that is wrong.

    Attributes
    ----------
    value : float, bool, or pair of int
        A resistance in Ω; for "joined" and "address" the two lines; for wires and open columns what says nothing.
    between : (float, float)
        Resistances that explain the readings as well, Ω.
    instead : tuple of Wrong
        Other parts that would explain them as well.
    """

    part: Part
    value: object
    between: tuple[float, float] = (math.nan, math.nan)
    instead: tuple[Wrong, ...] = ()


def board_of(observed: Observed, plan: Soldered) -> tuple[Soldered, float]:
    """The board with the fewest wrong parts that explains what was read; and its cost, prices included."""
    board, cost = plan, observed.cost(plan)
    for values in (BAG_OHM, SERIES_OHM):
        while len(differences(board, plan)) < MOST_FAULTS:
            found = min(_changed(observed, board, plan, values), key=lambda pair: pair[1])
            if found[1] >= cost - 1e-6:
                break
            board, cost = found
        board, cost = _exchanged(observed, board, cost, plan, values)
        if not observed.unexplained(board):
            break
    return board, cost


def price(board: Soldered, plan: Soldered) -> float:
    """Of all that is wrong with a board."""
    rare = [ohm for _, ohm in differences(board, plan) if isinstance(ohm, float) and ohm not in BAG_OHM]
    return PRICE * len(differences(board, plan)) + (RARE_PRICE - PRICE) * len(rare)


def differences(board: Soldered, plan: Soldered) -> list[tuple[Part, object]]:
    """Every part in which a board differs from its plan, with its value."""
    out: list[tuple[Part, object]] = []
    for name in ("series", "pulldown"):
        pairs = zip(getattr(board, name), getattr(plan, name), strict=True)
        out += [((name, i), a) for i, (a, b) in enumerate(pairs) if a != b]
    out += [((name, 0), getattr(board, name)) for name in _SINGLE if getattr(board, name) != getattr(plan, name)]
    out += [((name, 0), False) for name in _WIRES if not getattr(board, name)]
    if board.address is not None:
        out.append((("address", 0), board.address))
    out += [(("joined", 16 * a + b), (a, b)) for a, b in sorted(board.joined)]
    return out + [(("open_columns", c), True) for c in sorted(board.open_columns)]


def wrong_parts(observed: Observed, board: Soldered, cost: float, plan: Soldered) -> list[Wrong]:
    """What is wrong with a board, with what else would explain the readings as well."""
    out = []
    known = {part for part, _ in differences(board, plan)}
    for part, value in differences(board, plan):
        without = _put(board, plan, part, None)
        alike: dict[Part, list[object]] = {part: [value]}
        for (other, instead), changed in _suspects(without, plan, BAG_OHM):
            most = cost + EQUAL * (2 if other == part else 1)
            if (other == part or other not in known) and observed.cost(changed) + price(changed, plan) < most:
                alike.setdefault(other, []).append(instead)
        found = [_with_range(*pair) for pair in alike.items()]
        out.append(replace(found[0], instead=tuple(found[1:])))
    return out


def _with_range(part: Part, values: list[object]) -> Wrong:
    ohms = [v for v in values if isinstance(v, float)]
    return Wrong(part, values[0], (min(ohms), max(ohms))) if ohms else Wrong(part, values[0])


def _changed(
    observed: Observed, board: Soldered, plan: Soldered, values: tuple[float, ...]
) -> Iterator[tuple[Soldered, float]]:
    """Every board with one more, one less or another fault, and its cost."""
    for _, other in _suspects(board, plan, values):
        yield other, observed.cost(other) + price(other, plan)
    for part, _ in differences(board, plan):
        other = _put(board, plan, part, None)
        yield other, observed.cost(other) + price(other, plan)


def _exchanged(
    observed: Observed, board: Soldered, cost: float, plan: Soldered, values: tuple[float, ...]
) -> tuple[Soldered, float]:
    """Of several faults each is given up in turn for a better one: the first may have been taken in error."""
    again = True
    while again and len(differences(board, plan)) > 1:
        again = False
        for part, _ in differences(board, plan):
            without = _put(board, plan, part, None)
            found = min(_changed(observed, without, plan, values), key=lambda pair: pair[1])
            if found[1] < cost - 1e-6:
                board, cost = found
                again = True
                break
    return board, cost


def _suspects(
    board: Soldered, plan: Soldered, values: tuple[float, ...]
) -> Iterator[tuple[tuple[Part, object], Soldered]]:
    """Every single change of a board away from its plan."""
    rows, columns = range(len(board.series)), range(len(board.pulldown))
    parts: list[Part] = [("series", k) for k in rows] + [("pulldown", c) for c in columns]
    for part in [*parts, *((name, 0) for name in _SINGLE)]:
        for ohm in values:
            if ohm not in (_value(plan, part), _value(board, part)):
                yield (part, ohm), _put(board, plan, part, ohm)
    wires: list[tuple[Part, object]] = [((name, 0), False) for name in _WIRES if getattr(board, name)]
    wires += [(("address", 0), pair) for pair in combinations(range(4), 2) if pair != board.address]
    wires += [(("joined", 16 * a + b), (a, b)) for a, b in combinations(columns, 2) if (a, b) not in board.joined]
    wires += [(("open_columns", c), True) for c in columns if c not in board.open_columns]
    for part, value in wires:
        yield (part, value), _put(board, plan, part, value)


def _value(board: Soldered, part: Part) -> object:
    name, line = part
    value = getattr(board, name)
    return value[line] if name in ("series", "pulldown") else value


def _put(board: Soldered, plan: Soldered, part: Part, value: object) -> Soldered:
    """The board with one part of another value; None puts it right."""
    name, line = part
    if name in ("series", "pulldown"):
        line_values = list(getattr(board, name))
        line_values[line] = _value(plan, part) if value is None else value
        return replace(board, **{name: tuple(line_values)})  # type: ignore[arg-type]
    if name == "joined":
        return replace(board, joined=board.joined ^ {divmod(line, 16)})
    if name == "open_columns":
        return replace(board, open_columns=board.open_columns ^ {line})
    return replace(board, **{name: getattr(plan, name) if value is None else value})  # type: ignore[arg-type]
