"""Which strip hangs on which line: orders of rows and columns, found from presses and told as what was exchanged."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from groundtone.build.faults import Fault, Kind, Namer

Order = tuple[int, ...]
RowOrders = tuple[Order, Order]
T = TypeVar("T")


def swapped(order: Order, a: int, b: int) -> Order:
    """The order with two places exchanged."""
    out = list(order)
    out[a], out[b] = out[b], out[a]
    return tuple(out)


def _row_mistakes(rows: int, namer: Namer) -> Iterator[tuple[Fault, Callable[[RowOrders], RowOrders]]]:
    """Every single mistake in the order of rows, and what it does to a pair of orders (left, right)."""

    def on(panel: int | None, change: Callable[[Order], Order]) -> Callable[[RowOrders], RowOrders]:
        return lambda pair: (
            change(pair[0]) if panel != 1 else pair[0],
            change(pair[1]) if panel != 0 else pair[1],
        )

    for panel in (None, 0, 1):
        every = tuple(range(rows))
        yield namer.rows_order(Kind.ROWS_REVERSED, every[::-1], panel), on(panel, lambda order: order[::-1])
        for a, b in combinations(range(rows), 2):
            fault = namer.rows_order(Kind.ROWS_SWAPPED, (a, b), panel)
            yield fault, on(panel, lambda order, a=a, b=b: swapped(order, a, b))  # type: ignore[misc]


def _column_mistakes(columns: int, namer: Namer) -> Iterator[tuple[Fault, Callable[[Order], Order]]]:
    """Every single mistake in the order of columns, and what it does to an order."""
    half = columns // 2
    every = tuple(range(columns))
    yield namer.columns_order(Kind.PANELS_SWAPPED, every[half:] + every[:half], None), lambda o: o[half:] + o[:half]
    yield (
        namer.columns_order(Kind.COLUMNS_REVERSED, every[half - 1 :: -1] + every[half:], 0),
        lambda o: o[half - 1 :: -1] + o[half:],
    )
    yield (
        namer.columns_order(Kind.COLUMNS_REVERSED, every[:half] + every[: half - 1 : -1], 1),
        lambda o: o[:half] + o[: half - 1 : -1],
    )
    for a, b in combinations(range(columns), 2):
        fault = namer.columns_order(Kind.COLUMNS_SWAPPED, (a, b), None)
        yield fault, lambda o, a=a, b=b: swapped(o, a, b)  # type: ignore[misc]


def row_faults(left: Order, right: Order, namer: Namer) -> list[Fault]:
    """Tell the orders of both panels' rows as the fewest mistakes, two at most; else as they are.

    Parameters
    ----------
    left, right : tuple of int
        Board line of each place, from the heel end.

    Examples
    --------
    >>> [f.sentence for f in row_faults((0, 2, 1, 3), (0, 2, 1, 3), Namer(4))]
    ['Rows 1 and 2 of both panels are exchanged.']
    """
    right_way = tuple(range(len(left)))
    if (left, right) == (right_way, right_way):
        return []
    mistakes = list(_row_mistakes(len(left), namer))
    single = {change((right_way, right_way)): fault for fault, change in reversed(mistakes)}
    found = _explained((left, right), single, mistakes)
    if found is not None:
        return found
    if left == right:
        return [namer.rows_order(Kind.ROWS_MIXED, left, None)]
    orders = [(0, left), (1, right)]
    return [namer.rows_order(Kind.ROWS_MIXED, order, panel) for panel, order in orders if order != right_way]


def column_faults(order: Order, namer: Namer) -> list[Fault]:
    """Tell the order of the columns as the fewest mistakes, two at most; else as it is."""
    right_way = tuple(range(len(order)))
    if order == right_way:
        return []
    mistakes = list(_column_mistakes(len(order), namer))
    single = {change(right_way): fault for fault, change in reversed(mistakes)}
    found = _explained(order, single, mistakes)
    return found if found is not None else [namer.columns_order(Kind.COLUMNS_MIXED, order, None)]


def _explained(order: T, single: dict[T, Fault], mistakes: list[tuple[Fault, Callable[[T], T]]]) -> list[Fault] | None:
    """One mistake that makes the order, or two; every mistake undoes itself when done twice."""
    if order in single:
        return [single[order]]
    for fault, change in mistakes:
        before = change(order)
        if before in single:
            return [single[before], fault]
    return None


def filled(order: Sequence[int | None], hints: Sequence[Sequence[int | None]]) -> Order:
    """An order without gaps: places that nothing was seen of get the lines that are left over.

    Parameters
    ----------
    order : sequence of int or None
        Line of each place, as far as it was seen.
    hints : sequence of orders
        What a gap should hold if it can, the first that can first (the other panel's order, say).
    """
    left = sorted(set(range(len(order))) - {line for line in order if line is not None})
    out = list(order)
    for hint in (*hints, range(len(order))):
        for place, line in enumerate(out):
            wanted = hint[place]
            if line is None and wanted in left:
                out[place] = wanted
                left.remove(wanted)
    for place, line in enumerate(out):
        if line is None:
            out[place] = left.pop(0)
    return tuple(line for line in out if line is not None)


def walked_order(lines: NDArray[np.intp], count: int, first: int) -> list[int]:
    """Order of the lines under a finger that slid over all of them, on any path.

    Neighbours on the mat follow each other under the finger. The lines with how often that happened are a graph;
    its Fiedler vector orders a chain (Fiedler 1973), and where the finger began says which end is which.

    Parameters
    ----------
    lines : (n,) array of int
        The line that answered most, moment by moment.
    count : int
        Lines there are.
    first : int
        The line under the finger's first touch, at the beginning of the order.

    Returns
    -------
    list of int
        The lines that answered, in their order on the mat.
    """
    followed = np.zeros((count, count))
    steps = lines[np.flatnonzero(np.diff(lines, prepend=-1))]
    np.add.at(followed, (steps[:-1], steps[1:]), 1.0)
    followed += followed.T
    seen = np.unique(lines)
    if seen.size < 2:
        return [int(i) for i in seen]
    graph = followed[np.ix_(seen, seen)]
    # A finger that was lifted once makes a bond across the mat; what happened seldom counts for nothing.
    graph[graph < 0.25 * graph.max(axis=1, keepdims=True)] = 0.0
    graph = np.maximum(graph, graph.T)
    laplacian = np.diag(graph.sum(axis=1)) - graph
    _, vectors = np.linalg.eigh(laplacian)
    place = vectors[:, 1]
    order = seen[np.argsort(place)]
    at = int(np.flatnonzero(order == first)[0]) if first in order else 0
    if at > len(order) // 2:
        order = order[::-1]
    return [int(i) for i in order]
