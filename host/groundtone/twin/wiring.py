"""What a builder can wire wrong, as faults of a simulated mat: strips on wrong lines, opens, shorts, wrong parts."""

import functools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groundtone.twin.network import FloatArray

PANELS = ("left", "right")
SHORT_OHM = 0.5  # two strips that touch, or a bridge of solder (invented)
ABSENT_OHM = 1e8  # what holds a node where a part is missing: leakage of a board (invented)
FLOATING_LEVEL, FLOATING_SPREAD = 0.22, 0.06  # an open multiplexer input, of the supply (invented): it wanders

# kind: what the numbers that follow mean, and whether a panel's name may follow them
_GRAMMAR: dict[str, tuple[tuple[str, ...], bool]] = {
    "open-row": (("row",), True),
    "open-column": (("column",), False),
    "short-rows": (("row", "row"), False),
    "short-columns": (("column", "column"), False),
    "short-row-column": (("row", "column"), False),
    "swap-rows": (("row", "row"), True),
    "swap-columns": (("column", "column"), False),
    "reverse-rows": ((), True),
    "reverse-columns": ((), True),
    "swap-panels": ((), False),
    "dead-cell": (("row", "column"), False),
    "no-pulldown": (("column",), False),
    "pulldown": (("column", "factor"), False),
    "series": (("row", "factor"), False),
    "reference": (("factor",), False),
    "divider": (("factor",), False),
    "divider-lower": (("factor",), False),
    "address": (("address line", "address line"), False),
    "no-tap": ((), False),
    "no-zero": ((), False),
    "no-multiplexer": ((), False),
}
KINDS = tuple(_GRAMMAR)


def fault_form(kind: str) -> str:
    """A kind of fault with what its numbers mean.

    Examples
    --------
    >>> fault_form("open-row"), fault_form("pulldown")
    ('open-row:ROW[,left|right]', 'pulldown:COLUMN,FACTOR')
    """
    names, may_name_panel = _GRAMMAR[kind]
    words = ",".join(name.upper().replace(" ", "-") for name in names)
    panel = ("[,left|right]" if names else "[:left|right]") * may_name_panel
    return f"{kind}{':' * bool(names)}{words}{panel}"


@dataclass(frozen=True)
class WiringFault:
    """One fault: its kind, its numbers and, where only one panel is meant, that panel (0 left, 1 right)."""

    kind: str
    numbers: tuple[float, ...] = ()
    panel: int | None = None


def parse_fault(text: str) -> WiringFault:
    """Read a fault from words like "open-row:3", "open-row:3,left", "pulldown:5,10" or "reverse-columns:right".

    Rows and columns count from 0, columns over both panels. Opens, swaps, reversals and dead cells count places on
    the mat; shorts and resistors count lines of the board. A resistor's last number is the factor by which it is
    wrong; "divider" is the resistor between the supply and the divider's middle, "divider-lower" the one to ground.
    "address" swaps two address lines.

    Raises
    ------
    ValueError
        With a sentence: the words are not understood.
    """
    kind, _, rest = text.partition(":")
    if kind not in _GRAMMAR:
        raise ValueError(f"the fault {text!r} is not known: choose one of {', '.join(KINDS)}")
    count, may_name_panel = len(_GRAMMAR[kind][0]), _GRAMMAR[kind][1]
    words = [word for word in rest.split(",") if word]
    panel = None
    if may_name_panel and words and words[-1] in PANELS:
        panel = PANELS.index(words.pop())
    try:
        numbers = tuple(float(word) for word in words)
    except ValueError:
        numbers = ()
    if len(numbers) != count or len(words) != count or not all(0.0 <= n < 1e6 for n in numbers):
        raise ValueError(f"the fault {text!r} needs {count} numbers: {fault_form(kind)}")
    return WiringFault(kind, numbers, panel)


@dataclass
class _Draft:
    """The wiring while faults are put into it."""

    rows: int
    half: int
    row_line: NDArray[np.intp] = field(init=False)
    column_line: NDArray[np.intp] = field(init=False)
    row_open: NDArray[np.bool_] = field(init=False)
    column_open: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        self.row_line = np.tile(np.arange(self.rows), (2, 1))
        self.column_line = np.arange(2 * self.half)
        self.row_open = np.zeros((2, self.rows), dtype=bool)
        self.column_open = np.zeros(2 * self.half, dtype=bool)


@dataclass(frozen=True)
class Wiring:
    """A mat's wiring with its faults.

    Attributes
    ----------
    rows, columns_per_panel : int
    row_line : (2, R) array
        Board line of each panel's row strips, by place.
    column_line : (C,) array
        Board line of each column strip, by place.
    row_open, column_open : (2, R) and (C,) arrays of bool
        Strips whose wire is broken.
    shorts : tuple of (node, node)
        Lines that touch: rows are nodes 0 to R - 1, columns R to R + C - 1.
    dead : tuple of (row, column)
        Cells without contact, by place.
    pulldown, series : (C,) and (R,) arrays
        Factors on the resistors of each line; inf where there is none.
    reference, divider, divider_lower : float
        Factors on the reference resistor and on the divider's upper and lower resistor.
    address : (16,) array
        Input that the multiplexer really selects for each address.
    tap, zero, multiplexer : bool
        The tap's wire, the wire from input 8 to ground and the multiplexer itself are there.
    """

    rows: int
    columns_per_panel: int
    row_line: NDArray[np.intp]
    column_line: NDArray[np.intp]
    row_open: NDArray[np.bool_]
    column_open: NDArray[np.bool_]
    shorts: tuple[tuple[int, int], ...]
    dead: tuple[tuple[int, int], ...]
    pulldown: FloatArray
    series: FloatArray
    reference: float
    divider: float
    divider_lower: float
    address: NDArray[np.intp]
    tap: bool
    zero: bool
    multiplexer: bool

    @property
    def divider_level(self) -> float:
        """What the divider's middle gives, of the supply."""
        return self.divider_lower / (self.divider + self.divider_lower)


def make_wiring(faults: tuple[str, ...], rows: int, columns_per_panel: int) -> Wiring:
    """Put faults, one after the other, into a mat that is wired right.

    Raises
    ------
    ValueError
        A fault is not understood, or names a line the mat does not have.
    """
    columns = 2 * columns_per_panel
    draft = _Draft(rows, columns_per_panel)
    shorts: list[tuple[int, int]] = []
    dead: list[tuple[int, int]] = []
    pulldown, series = np.ones(columns), np.ones(rows)
    factor = dict.fromkeys(("reference", "divider", "divider-lower"), 1.0)
    address = np.arange(16)
    missing: set[str] = set()
    for text in faults:
        fault = parse_fault(text)
        _check(fault, text, rows, columns)
        n = fault.numbers
        match fault.kind:
            case "short-rows":
                shorts.append((int(n[0]), int(n[1])))
            case "short-columns":
                shorts.append((rows + int(n[0]), rows + int(n[1])))
            case "short-row-column":
                shorts.append((int(n[0]), rows + int(n[1])))
            case "dead-cell":
                dead.append((int(n[0]), int(n[1])))
            case "no-pulldown":
                pulldown[int(n[0])] = np.inf
            case "pulldown":
                pulldown[int(n[0])] *= n[1]
            case "series":
                series[int(n[0])] *= n[1]
            case "reference" | "divider" | "divider-lower":
                factor[fault.kind] *= n[0]
            case "address":
                address = np.array([_swapped_bits(int(a), int(n[0]), int(n[1])) for a in address])
            case "no-tap" | "no-zero" | "no-multiplexer":
                missing.add(fault.kind)
            case _:
                _rewire(draft, fault)
    return Wiring(
        rows, columns_per_panel, draft.row_line, draft.column_line, draft.row_open, draft.column_open, tuple(shorts),
        tuple(dead), pulldown, series, factor["reference"], factor["divider"], factor["divider-lower"], address,
        "no-tap" not in missing, "no-zero" not in missing, "no-multiplexer" not in missing,
    )  # fmt: skip


def _check(fault: WiringFault, text: str, rows: int, columns: int) -> None:
    limits = {"row": rows, "column": columns, "address line": 4}
    for number, name in zip(fault.numbers, _GRAMMAR[fault.kind][0], strict=True):
        if name == "factor":
            if number <= 0.0:
                raise ValueError(f"the fault {text!r} needs a factor above 0")
        elif number != int(number) or number >= limits[name]:
            last = limits[name] - 1
            raise ValueError(f"the fault {text!r} names {name} {number:g}, and the mat has {name}s 0 to {last}")
    two = fault.kind in ("short-rows", "short-columns", "swap-rows", "swap-columns", "address")
    if two and fault.numbers[0] == fault.numbers[1]:
        raise ValueError(f"the fault {text!r} names the same line twice")


def _rewire(draft: _Draft, fault: WiringFault) -> None:
    """Opens, swaps and reversals."""
    panels = (0, 1) if fault.panel is None else (fault.panel,)
    half = draft.half
    n = [int(x) for x in fault.numbers]
    if fault.kind == "open-column":
        draft.column_open[n[0]] = True
    elif fault.kind == "swap-columns":
        draft.column_line[n] = draft.column_line[n[::-1]]
    elif fault.kind == "swap-panels":
        draft.column_line = np.roll(draft.column_line, half)
    for panel in panels:
        mine = slice(panel * half, (panel + 1) * half)
        if fault.kind == "open-row":
            draft.row_open[panel, n[0]] = True
        elif fault.kind == "swap-rows":
            draft.row_line[panel, n] = draft.row_line[panel, n[::-1]]
        elif fault.kind == "reverse-rows":
            draft.row_line[panel] = draft.row_line[panel, ::-1]
        elif fault.kind == "reverse-columns":
            draft.column_line[mine] = draft.column_line[mine][::-1].copy()


def _swapped_bits(address: int, a: int, b: int) -> int:
    """The address with bits a and b exchanged."""
    different = (address >> a ^ address >> b) & 1
    return address ^ (different << a | different << b)


def cell_ends(wiring: Wiring) -> tuple[NDArray[np.intp], int]:
    """Electrical nodes at both ends of every cell, by place.

    Returns
    -------
    ends : (R · C, 2) array
        Node of the row strip and of the column strip. Lines come first (R rows, C columns), then strips that float.
    nodes : int
        How many nodes there are.
    """
    rows, columns = wiring.rows, 2 * wiring.columns_per_panel
    row_node, column_node = wiring.row_line.copy(), rows + wiring.column_line
    nodes = rows + columns
    for panel, place in zip(*np.nonzero(wiring.row_open), strict=True):
        row_node[panel, place] = nodes
        nodes += 1
    for broken in np.flatnonzero(wiring.column_open):
        column_node[broken] = nodes
        nodes += 1
    k, j = np.divmod(np.arange(rows * columns), columns)
    return np.stack([row_node[j // wiring.columns_per_panel, k], column_node[j]], axis=1), nodes


def line_matrix(
    conductance: FloatArray, wiring: Wiring, side: FloatArray | None = None, row_links: FloatArray | None = None
) -> FloatArray:
    """Conductance matrix of the board's lines, with whatever hangs on them; strips that float are eliminated.

    Parameters
    ----------
    conductance : (n, R, C) array
        Of each cell by place, S.
    wiring : Wiring
    side : (C-1,) array, optional
        Film between neighbouring column strips, S.
    row_links : (R, R) array, optional
        Between row lines, S.

    Returns
    -------
    (n, R + C, R + C) array
        S. Nothing of the board (drivers, pull-downs) is in it.
    """
    n, rows, columns = conductance.shape
    ends, nodes = cell_ends(wiring)
    lines = rows + columns
    across = _incidence(ends, nodes)
    out: FloatArray = (across[None] * conductance.reshape(n, -1)[:, :, None]).transpose(0, 2, 1) @ across
    fixed = np.zeros((nodes, nodes))
    if side is not None:
        column_node = ends[:columns, 1]
        pairs = np.stack([column_node[:-1], column_node[1:]], axis=1)
        beside = _incidence(pairs, nodes)
        fixed += beside.T @ (side[:, None] * beside)
    if wiring.shorts:
        joined = _incidence(np.array(wiring.shorts), nodes)
        fixed += joined.T @ joined / SHORT_OHM
    if row_links is not None:
        links = row_links - np.diag(np.diag(row_links))
        fixed[:rows, :rows] += np.diag(links.sum(axis=1)) - links
    out += fixed
    if nodes > lines:
        free = np.arange(lines, nodes)
        out[:, free, free] += 1.0 / ABSENT_OHM
        into = out[:, lines:, :lines]
        out = out[:, :lines, :lines] - into.transpose(0, 2, 1) @ np.linalg.solve(out[:, lines:, lines:], into)
    return out


def _incidence(ends: NDArray[np.intp], nodes: int) -> FloatArray:
    """+1 and -1 at the two nodes of each path, (paths, nodes)."""
    out = np.zeros((len(ends), nodes))
    i = np.arange(len(ends))
    out[i, ends[:, 0]] += 1.0
    out[i, ends[:, 1]] -= 1.0
    return out


def behind_address(inputs: FloatArray, wiring: Wiring) -> FloatArray:
    """What is read at each address, (…, 16), from what stands at each input, (…, 16)."""
    out: FloatArray = inputs[..., wiring.address]
    return out


@functools.cache
def _wander() -> FloatArray:
    return np.random.default_rng(7).uniform(-1.0, 1.0, 997)


def floating_level(index: int) -> float:
    """Level of an input that nothing holds, as a fraction of the supply; wanders from call to call, repeatably."""
    return FLOATING_LEVEL + FLOATING_SPREAD * float(_wander()[index % 997])
