"""A golfer and what they do, as plain data: body and stance, swings, and what comes between them."""

from dataclasses import dataclass

from groundtone.twin.mat_spec import one_of, whole, within, yes_or_no

STYLES = ("good", "toe_drift", "heel_drift", "trail_hang", "slide", "lost_balance", "reverse")
MORE_STYLES = ("centred", "pitch")
"""Good swings whose sizes are told beside the name: only the name is another."""
SOLES = ("plain", "studded", "soft")
WIDE_SOLES = (*SOLES, "arched", "hard")
HANDS = ("right", "left")
DOINGS = ("stand", "shift", "waggle", "one_leg", "bend", "pace", "visitor", "walk")
WIDE_DOINGS = ("mill", "settle", "hop", "rocks", "sides", "heels", "turn_back", "pick_up", "look_round")
TAPS = ("lead toe", "lead heel", "trail heel", "trail foot", "trail toe")


@dataclass(frozen=True)
class GolferSpec:
    """An invented golfer: body, shoes and stance. `flare_deg` is (left, right), toes outwards positive, 0 to 30."""

    hand: str = "right"
    mass_kg: float = 80.0
    shoe_mm: float = 290.0
    width_mm: float | None = None
    flare_deg: tuple[float, float] = (10.0, 10.0)
    stance_mm: float = 400.0
    sole: str = "plain"
    setup_share: float = 0.525
    setup_heel_toe: float = 0.53

    def __post_init__(self) -> None:
        one_of("hand", self.hand, HANDS)
        one_of("sole", self.sole, WIDE_SOLES)
        within("mass_kg", self.mass_kg, 25, 130)
        within("shoe_mm", self.shoe_mm, 180, 330)
        if self.width_mm is not None:
            within("width_mm", self.width_mm, 50, 160)
        if len(self.flare_deg) != 2:
            raise ValueError("flare_deg needs two angles, left and right")
        for flare in self.flare_deg:
            within("flare_deg", flare, 0, 30)
        within("stance_mm", self.stance_mm, 140, 900)
        within("setup_share", self.setup_share, 0.2, 0.8)
        within("setup_heel_toe", self.setup_heel_toe, 0.25, 0.8)

    @property
    def sole_width_mm(self) -> float:
        """Width of the sole: as given, else 0.36 of its length (from memory), mm."""
        return 0.36 * self.shoe_mm if self.width_mm is None else self.width_mm


@dataclass(frozen=True)
class SwingSpec:
    """One swing. What is None is drawn from the session's seed. A swing without `strike` hits no ball.

    `slow` makes it that many times slower, as a rehearsal, and takes the force out of it. `waggles` come before the
    takeaway, a second each; `press` is how far the lead share goes up just before it (a forward press). `hold_s` is how
    long the finish is held (None: as the session says). The rest sets sizes: `setup_share` and `setup_heel_toe` of the
    setup, `least_share` the lead share at the turn of pressure, `down_heel_toe` where both feet's pressure is at impact
    and a while after it, `trail_back` the trail foot's heel-toe position at the turn, `lead_back` the lead foot's,
    `trail_edge` how far the trail foot leans at the turn and `lead_edge` the lead foot from impact on (-1 to the outer
    edge, below that it stands on it), `lead_after` the lead foot's position from the follow-through on, `trail_after`
    the trail foot's, `back_change` how far the lead share goes in the backswing
    (below 0: towards the trail side; it stands in place of `least_share`), `finish_share` the lead share of the
    finish, `peak_weights` the most vertical force in body weights, `peak_lead_ms` how long before impact it comes
    (below 0: after it), `loud` the strike's peak as a part of the sensor's range. `pause_s` is spent where the
    pressure turns, `halts` short stops come on the way back; `mill` is how far the share goes to and fro until the
    takeaway. `lead_up_s`: the lead foot is in the air for so long and lands in another place before the club comes
    down. `walks`: after the ball the golfer walks off over the lead foot and comes back.
    """

    style: str = "good"
    turn_lead_ms: float | None = None
    backswing_s: float | None = None
    downswing_s: float | None = None
    impact_share: float | None = None
    strike: bool = True
    slow: float = 1.0
    waggles: int = 0
    press: float = 0.0
    hold_s: float | None = None
    setup_share: float | None = None
    setup_heel_toe: float | None = None
    least_share: float | None = None
    down_heel_toe: float | None = None
    trail_back: float | None = None
    lead_back: float | None = None
    trail_edge: float | None = None
    lead_edge: float | None = None
    lead_after: float | None = None
    trail_after: float | None = None
    back_change: float | None = None
    finish_share: float | None = None
    peak_weights: float | None = None
    peak_lead_ms: float | None = None
    loud: float | None = None
    pause_s: float = 0.0
    halts: int = 0
    mill: float = 0.0
    lead_up_s: float = 0.0
    walks: bool = False

    def __post_init__(self) -> None:
        one_of("style", self.style, (*STYLES, *MORE_STYLES))
        for name, low, high in (
            ("turn_lead_ms", 0, 900), ("backswing_s", 0.25, 2.0), ("downswing_s", 0.15, 0.8),
            ("impact_share", 0.05, 0.98), ("slow", 1, 6), ("press", 0, 0.1), ("hold_s", 0.3, 30),
            ("setup_share", 0.2, 0.8), ("setup_heel_toe", 0.25, 0.8), ("least_share", 0.05, 0.6),
            ("down_heel_toe", 0.16, 0.88), ("trail_back", 0.16, 0.88), ("lead_back", 0.16, 0.88),
            ("trail_edge", -3, 1), ("lead_edge", -3, 1), ("lead_after", 0.16, 0.88),
            ("trail_after", 0.16, 0.90), ("back_change", -0.5, 0.3), ("finish_share", 0.3, 1.0),
            ("peak_weights", 1.0, 2.5), ("peak_lead_ms", -80, 120), ("loud", 0.02, 1),
            ("pause_s", 0, 3), ("mill", 0, 0.15), ("lead_up_s", 0, 1),
        ):  # fmt: skip
            if getattr(self, name) is not None:
                within(name, getattr(self, name), low, high)
        whole("waggles", self.waggles, 0, 10)
        whole("halts", self.halts, 0, 5)
        yes_or_no("walks", self.walks)
        yes_or_no("strike", self.strike)


@dataclass(frozen=True)
class Doing:
    """What a golfer does who does not swing, for `seconds`; `before` says before which swing (their number: after all).

    "stand" is quiet standing, "shift" going from foot to foot, "waggle" a setup with waggles and no swing, "one_leg"
    resting on one foot, "bend" going down to the ball and up again, "pace" stepping on the spot, "visitor" a second
    person with `visitor_kg` stepping on and off, "walk" leaving the mat and coming back, with a `rock` or without.
    Of the wider world: "mill" going to and fro without rest, "settle" letting the weight sink slowly to the trail side,
    "hop" a small jump, and what drills ask for without a swing: "rocks" from heels to toes and back, "sides" from side
    to side, each time half as far, "heels" lifting one heel and the other, "turn_back" turning slowly into the trail
    heel, waiting there and turning back. "pick_up" goes down for a ball over one foot or both and stays there for a
    while, "look_round" turns to somebody on one foot; their sizes are invented.
    "tap" is no part of `DOINGS`: it stands for `seconds` and then taps once with a foot, at `place` of `TAPS`.
    """

    kind: str
    seconds: float = 6.0
    before: int = 0
    rock: bool = False
    visitor_kg: float = 70.0
    place: str = "lead toe"

    def __post_init__(self) -> None:
        one_of("kind", self.kind, (*DOINGS, *WIDE_DOINGS, "tap"))
        one_of("place", self.place, TAPS)
        whole("before", self.before, 0, 10000)
        yes_or_no("rock", self.rock)
        within("seconds", self.seconds, 0.1 if self.kind == "tap" else 1, 600)
        within("visitor_kg", self.visitor_kg, 15, 130)
