"""What the twin plays: a mat as it was built and an act on it, as plain data that goes to JSON and back."""

import json
from dataclasses import asdict, dataclass, field, fields
from typing import Any, ClassVar

import numpy as np

from groundtone.twin.golfer_spec import (
    DOINGS,
    HANDS,
    SOLES,
    STYLES,
    TAPS,
    WIDE_DOINGS,
    WIDE_SOLES,
    Doing,
    GolferSpec,
    SwingSpec,
)
from groundtone.twin.hands import Hands
from groundtone.twin.mat_spec import GRID, GRIDS, Cell, MatSpec, check_cells, whole, within, yes_or_no

__all__ = [
    "DOINGS", "HANDS", "SOLES", "STYLES", "TAPS", "WIDE_DOINGS", "WIDE_SOLES", "Act", "Bench", "Cell", "Check", "Doing",
    "Empty", "GolferSpec", "Hands", "MatSpec", "Press", "Put", "Scenario", "Session", "Standing", "SwingSpec",
    "demo_scenario",
]  # fmt: skip


@dataclass(frozen=True)
class Session:
    """A golfer steps on, rocks, swings and steps off.

    `rocks` slow rocks from heels to toes and back, `rock_s` each; `rock_share_sway` moves the weight from foot to
    foot at the same time (0 to 0.45). `stray_strikes_s` are strikes of the next bay, s. `weight_n` is a known
    weight that lies for 3 s on the middle of the left panel and then of the right before anybody steps on; 0 none.
    `doings` is what the golfer does besides, in order.
    `shoe_seed` draws how the shoes press on the film (None: the session's seed): the same in two acts, the same shoes.
    `leant_n` is the force of a club that lies on the toes' end of the right panel from the start on.
    """

    kind: ClassVar[str] = "session"
    grid_us: ClassVar[int] = 2500
    golfer: GolferSpec = field(default_factory=GolferSpec)
    swings: tuple[SwingSpec, ...] = (SwingSpec(),)
    seed: int = 1
    empty_s: float = 1.5
    rocks: int = 1
    rock_s: float = 5.0
    rock_share_sway: float = 0.0
    setup_s: float = 2.5
    hold_s: float = 1.5
    stray_strikes_s: tuple[float, ...] = ()
    weight_n: float = 0.0
    shoe_seed: int | None = None
    doings: tuple[Doing, ...] = ()
    leant_n: float = 0.0

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        if self.shoe_seed is not None:
            whole("shoe_seed", self.shoe_seed, 0, 2**63 - 1)
        whole("rocks", self.rocks, 0, 100)
        for name, low, high in (
            ("empty_s", 0.5, 60), ("rock_s", 2, 60), ("rock_share_sway", 0, 0.45), ("setup_s", 0.5, 30),
            ("hold_s", 1.4, 30), ("weight_n", 0, 500), ("leant_n", 0, 30),
        ):  # fmt: skip
            within(name, getattr(self, name), low, high)
        for strike in self.stray_strikes_s:
            within("stray_strikes_s", strike, 0, 1e5)


@dataclass(frozen=True)
class Standing:
    """A person steps on and rocks for a time: to and fro, from side to side and over the edges of the feet.

    `sway` says how far, 0 (stands still) to 1 (from heels to toes, nearly from one foot to the other). `fast_s` of the
    time, in its middle, goes three times as fast, with the body bouncing by 8 %: what a calibration must leave out.
    """

    kind: ClassVar[str] = "standing"
    grid_us: ClassVar[int] = 5000
    golfer: GolferSpec = field(default_factory=GolferSpec)
    seed: int = 1
    empty_s: float = 3.0
    rock_s: float = 45.0
    sway: float = 1.0
    fast_s: float = 6.0
    shoe_seed: int | None = None
    weight_n: float = field(default=0.0, init=False)

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        for name, low, high in (("empty_s", 0.5, 60), ("rock_s", 2, 600), ("sway", 0, 1), ("fast_s", 0, 60)):
            within(name, getattr(self, name), low, high)


@dataclass(frozen=True)
class Check:
    """A person goes through the check of the mat: empty, steps on, stands, rocks, lifts the left foot, then the right.

    `weight_n` as for `Session`. While a foot is lifted, the pressure under the other wanders along the sole by
    `lift_wander` (part of the sole's length) to both sides of its middle. With `foot_left` one foot stands on the left
    panel while the mat should be empty. `lifts` False leaves both lifts out.
    """

    kind: ClassVar[str] = "check"
    grid_us: ClassVar[int] = 5000
    golfer: GolferSpec = field(default_factory=GolferSpec)
    seed: int = 1
    empty_s: float = 5.0
    still_s: float = 6.0
    rock_s: float = 8.0
    lift_s: float = 7.0
    lift_wander: float = 0.15
    lifts: bool = True
    foot_left: bool = False
    shoe_seed: int | None = None
    weight_n: float = 0.0

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        yes_or_no("lifts", self.lifts)
        yes_or_no("foot_left", self.foot_left)
        for name, low, high in (
            ("empty_s", 0.5, 60), ("still_s", 1, 60), ("rock_s", 3, 60), ("lift_s", 2, 60), ("lift_wander", 0, 0.3),
            ("weight_n", 0, 500),
        ):  # fmt: skip
            within(name, getattr(self, name), low, high)


@dataclass(frozen=True)
class Put:
    """One thing that a helper's hands do: `load_n` onto a cell, for so long, after so long with nothing on the mat.

    `stay` changes what lies there without a lift: weights are added or taken off, or (with another offset) it slips;
    `wait_s` then counts for nothing. What is None is the bench's own; an offset (u, v in mm) that is None is drawn.
    """

    cell: Cell
    load_n: float
    stay: bool = False
    offset_mm: tuple[float, float] | None = None
    hold_s: float | None = None
    wait_s: float | None = None

    def __post_init__(self) -> None:
        within("load_n", self.load_n, 0.1, 2000)
        yes_or_no("stay", self.stay)
        for name, low, high in (("hold_s", 0.3, 600), ("wait_s", 0.2, 600)):
            if getattr(self, name) is not None:
                within(name, getattr(self, name), low, high)
        if self.offset_mm is not None:
            for offset in self.offset_mm:
                within("offset_mm", offset, -400, 400)


@dataclass(frozen=True)
class Bench:
    """A puck under known loads, cell by cell (`cells` None: all in electrical order).

    Each load lies `on_s`, with `off_s` empty before the next. A load smaller than the one before it is reached by
    taking weights off the puck where it lies, without a gap and without a lift, for only so does the film's
    hysteresis show. `repeatability` is the mean share of a load that lands on neighbours because the puck is off
    centre. With a `plan` a helper does what it says, and `cells` and `loads_n` count for nothing. `hand_s` is how long
    a hand takes to set a weight down or to take it up; `foot_s` is how long somebody leaves a foot on the left panel
    at the beginning. `scatter` is how much of a load the film gets otherwise each time it is placed by hand (standard
    deviation of its logarithm; what changes without a lift keeps its draw).
    """

    kind: ClassVar[str] = "bench"
    grid_us: ClassVar[int] = 20000
    cells: tuple[Cell, ...] | None = None
    loads_n: tuple[float, ...] = (20.0, 60.0, 180.0, 60.0)
    on_s: float = 1.0
    off_s: float = 0.4
    lead_in_s: float = 1.0
    repeatability: float = 0.05
    puck_mm: tuple[float, float] = (20.0, 35.0)
    seed: int = 1
    plan: tuple[Put, ...] | None = None
    hand_s: float = 0.08
    foot_s: float = 0.0
    scatter: float = 0.0

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        if self.plan is not None and not self.plan:
            raise ValueError("plan must hold at least one thing to do, or be None")
        if not self.loads_n:
            raise ValueError("loads_n needs at least one load")
        for load in self.loads_n:
            within("loads_n", load, 0.1, 2000)
        for name, low, high in (
            ("on_s", 0.3, 600), ("off_s", 0.2, 600), ("lead_in_s", 0.2, 600), ("repeatability", 0, 0.3),
            ("hand_s", 0.02, 1.5), ("foot_s", 0, 600),
            ("scatter", 0, 0.5),
        ):  # fmt: skip
            within(name, getattr(self, name), low, high)
        if len(self.puck_mm) != 2:
            raise ValueError("puck_mm needs a length and a width")
        for side in self.puck_mm:
            within("puck_mm", side, 2, 200)


@dataclass(frozen=True)
class Press:
    """A finger presses cells one after the other (`cells` None: all), as when looking for wiring mistakes."""

    kind: ClassVar[str] = "press"
    grid_us: ClassVar[int] = 20000
    cells: tuple[Cell, ...] | None = None
    force_n: float = 40.0
    on_s: float = 0.6
    off_s: float = 0.4
    lead_in_s: float = 1.0
    finger_mm: tuple[float, float] = (14.0, 14.0)

    def __post_init__(self) -> None:
        for name, low, high in (("force_n", 0.1, 500), ("on_s", 0.3, 60), ("off_s", 0.2, 60), ("lead_in_s", 0.2, 60)):
            within(name, getattr(self, name), low, high)
        if len(self.finger_mm) != 2:
            raise ValueError("finger_mm needs a length and a width")
        for side in self.finger_mm:
            within("finger_mm", side, 2, 50)


@dataclass(frozen=True)
class Empty:
    """Nobody on the mat."""

    kind: ClassVar[str] = "empty"
    grid_us: ClassVar[int] = 20000
    duration_s: float = 10.0

    def __post_init__(self) -> None:
        within("duration_s", self.duration_s, 0.1, 1e5)


Act = Session | Standing | Check | Bench | Press | Hands | Empty
_ACTS: dict[str, Any] = {
    "session": Session, "standing": Standing, "check": Check, "bench": Bench, "press": Press, "hands": Hands,
    "empty": Empty,
}  # fmt: skip


@dataclass(frozen=True)
class Scenario:
    """A mat and what happens on it.

    Examples
    --------
    >>> plan = Scenario(act=Empty(duration_s=2.0))
    >>> Scenario.from_json(plan.to_json()) == plan
    True
    """

    mat: MatSpec = field(default_factory=MatSpec)
    act: Act = field(default_factory=Session)

    def __post_init__(self) -> None:
        if isinstance(self.act, Bench | Press) and self.act.cells is not None:
            if not self.act.cells:
                raise ValueError("cells must name at least one cell, or be None for all")
            check_cells("cells", self.act.cells, self.mat)
        if isinstance(self.act, Bench) and self.act.plan is not None:
            check_cells("plan", tuple(put.cell for put in self.act.plan), self.mat)

    def to_json(self) -> str:
        """Text that `from_json` turns back into an equal scenario."""
        act = asdict(self.act)
        given = {part.name: act[part.name] for part in fields(self.act) if part.init}
        return json.dumps({"mat": asdict(self.mat), "act": {"kind": self.act.kind, **given}}, indent=1)

    @classmethod
    def from_json(cls, text: str) -> "Scenario":
        """Read a scenario.

        Raises
        ------
        ValueError
            When the text is no JSON, a key is unknown or a value lies outside its range; the sentence says which.
        """
        try:
            data = json.loads(text)
        except json.JSONDecodeError as error:
            raise ValueError(f"the scenario is not JSON: {error}") from error
        if not isinstance(data, dict) or set(data) != {"mat", "act"}:
            raise ValueError("a scenario has exactly two parts, mat and act")
        act = data["act"]
        if not isinstance(act, dict) or act.get("kind") not in _ACTS:
            raise ValueError(f"act.kind must be one of {', '.join(_ACTS)}")
        rest = {key: value for key, value in act.items() if key != "kind"}
        if "golfer" in rest:
            rest["golfer"] = _build(GolferSpec, "golfer", rest["golfer"])
        if "swings" in rest:
            if not isinstance(rest["swings"], list):
                raise ValueError("swings must be a list")
            rest["swings"] = tuple(_build(SwingSpec, "swing", swing) for swing in rest["swings"])
        if isinstance(rest.get("doings"), list):
            rest["doings"] = tuple(_build(Doing, "doing", doing) for doing in rest["doings"])
        if isinstance(rest.get("plan"), list):
            rest["plan"] = tuple(_build(Put, "put", put) for put in rest["plan"])
        mat = data["mat"]
        if isinstance(mat, dict) and (grid := GRIDS.get(str(mat.get("layout")))):
            mat = dict(zip(GRID, grid, strict=True)) | mat  # a known layout says its grid
        return cls(_build(MatSpec, "mat", mat), _build(_ACTS[act["kind"]], "act", rest))


def _build(kind: Any, name: str, data: Any) -> Any:
    """Make one dataclass out of a JSON object, lists as tuples; unknown keys are refused."""
    if not isinstance(data, dict):
        raise ValueError(f"{name} must be an object")
    unknown = set(data) - {f.name for f in fields(kind)}
    if unknown:
        raise ValueError(f"{name} does not know {', '.join(sorted(unknown))}")
    try:
        return kind(**{key: _tuples(value) for key, value in data.items()})
    except TypeError as error:
        raise ValueError(f"{name} holds a value of the wrong kind: {error}") from error


def _tuples(value: Any) -> Any:
    return tuple(_tuples(item) for item in value) if isinstance(value, list) else value


def demo_scenario(seed: int = 1, hand: str = "right", mass_kg: float = 80.0) -> Scenario:
    """Eight invented swings on a reference mat: two each of good, toe_drift and trail_hang in a drawn order, then more.

    Those are a centred one, whose pressure hardly goes to the trail side, and a pitch.

    Parameters
    ----------
    seed : int
        Draws the mat, the order and every variation.
    hand : str
        "right" or "left".
    mass_kg : float
        Body mass, 25 to 130 kg.
    """
    styles = ["good", "good", "toe_drift", "toe_drift", "trail_hang", "trail_hang"]
    order = np.random.default_rng([seed, 6]).permutation(len(styles))
    more = (
        SwingSpec("centred", back_change=-0.03, impact_share=0.68, finish_share=0.86, peak_weights=1.5),
        SwingSpec(
            "pitch", setup_share=0.64, back_change=-0.06, impact_share=0.78, finish_share=0.84, peak_weights=1.15,
            backswing_s=0.62, downswing_s=0.27, loud=0.5, trail_after=0.76,
        ),
    )  # fmt: skip
    swings = (*(SwingSpec(styles[i]) for i in order), *more)
    mat = MatSpec.reference(seed=seed, uid=f"{0x67746D0000000000 | seed % 2**40:016x}")
    return Scenario(mat, Session(GolferSpec(hand=hand, mass_kg=mass_kg), swings, seed=seed))
