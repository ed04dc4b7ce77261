"""The person who commissions a mat, as an act: nothing happens until somebody says what hands and feet shall do."""

from dataclasses import dataclass
from typing import ClassVar

from groundtone.twin.mat_spec import MatSpec, whole, within

# word: lower and upper limit of each number that follows; the last ones may be left out for the default
_MOST = 1e4
ACTIONS: dict[str, tuple[tuple[str, float | None], ...]] = {
    "press": (("row", None), ("column", None), ("newtons", 40.0), ("seconds", 0.5)),
    "stroke": (("panel", None), ("row", None)),
    "walk": (("panel", None), ("way", 0.0)),
    "hold": (("row", None), ("column", None), ("row", None), ("column", None), ("newtons", 60.0), ("seconds", 1.5)),
    "touch": (("row", None), ("column", None), ("seconds", 0.5)),
    "stand": (("kilograms", 75.0), ("seconds", 3.0)),
    "tap": (("strength", 0.5),),
}


@dataclass(frozen=True)
class Hands:
    """Hands and feet that do what they are told while the film runs (`groundtone.twin.world.World.do`).

    `force_spread` is how differently one finger presses from time to time (standard deviation of the logarithm),
    `reaction_s` the time from a word to the deed, `pause_s` between two fingertips, `walk_mm_s` the speed of a finger
    that slides.
    """

    kind: ClassVar[str] = "hands"
    grid_us: ClassVar[int] = 20000
    duration_s: float = 3600.0
    seed: int = 1
    force_spread: float = 0.25
    reaction_s: float = 0.3
    pause_s: float = 0.12
    walk_mm_s: float = 120.0
    finger_mm: tuple[float, float] = (14.0, 14.0)
    resistor_ohm: float = 1000.0

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**63 - 1)
        for name, low, high in (
            ("duration_s", 1, 1e5), ("force_spread", 0, 1), ("reaction_s", 0, 5), ("pause_s", 0.05, 5),
            ("walk_mm_s", 10, 1000), ("resistor_ohm", 10, 1e6),
        ):  # fmt: skip
            within(name, getattr(self, name), low, high)
        if len(self.finger_mm) != 2:
            raise ValueError("finger_mm needs a length and a width")
        for side in self.finger_mm:
            within("finger_mm", side, 2, 50)


def parse_action(text: str, mat: MatSpec) -> tuple[str, tuple[float, ...]]:
    """Read an action like "press 3 5" or "stroke 0 7": the word and all its numbers, defaults filled in.

    Rows and columns are places on the mat, columns over both panels; a panel is 0 (left) or 1 (right).

    Raises
    ------
    ValueError
        The word is unknown, or its numbers do not fit it or the mat.
    """
    word, *rest = text.split()
    if word not in ACTIONS:
        raise ValueError(f"nobody knows how to {word!r}: choose one of {', '.join(ACTIONS)}")
    fields = ACTIONS[word]
    try:
        given = [float(number) for number in rest]
    except ValueError:
        raise ValueError(f"{text!r} holds something that is no number") from None
    needed = sum(default is None for _, default in fields)
    if not needed <= len(given) <= len(fields):
        raise ValueError(f"{word} needs {needed} to {len(fields)} numbers: {', '.join(name for name, _ in fields)}")
    given += [default for _, default in fields[len(given) :] if default is not None]
    limits = {"row": mat.rows - 1, "column": mat.columns - 1, "panel": 1, "way": 1}
    for (name, _), number in zip(fields, given, strict=True):
        if name in limits:
            whole(name, int(number) if number == int(number) else -1, 0, limits[name])
        else:
            within(name, number, 0.0, _MOST)
    return word, tuple(given)
