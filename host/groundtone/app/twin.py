"""Which simulated mat a command works with, and what happens on it when nobody says otherwise."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

from groundtone.app.click_parts import USUAL_LAYOUT
from groundtone.errors import GroundtoneError
from groundtone.mat.layout import layout_of
from groundtone.twin.scenario import Act, GolferSpec, MatSpec, Scenario, Session, SwingSpec

MOST_SEED = 2**31


@dataclass(frozen=True)
class TwinChoice:
    """Which simulated mat a command shall work with.

    Attributes
    ----------
    act : Act or None
        What a scenario file lets happen on it; None: the command decides.
    fast : bool
        As fast as the machine can; nothing is heard.
    """

    mat: MatSpec
    act: Act | None = None
    fast: bool = False


def twin_choice(word: str | None, layout_id: str, fast: bool) -> TwinChoice | None:
    """The twin that `--twin` asks for: a seed, or the file of a scenario; None where the option was not given.

    Raises
    ------
    GroundtoneError
        The word is neither, or the file cannot be used.
    """
    if word is None:
        if fast:
            raise GroundtoneError("--fast is for the simulated mat only: name --twin as well")
        return None
    if re.fullmatch(r"-?[0-9]+", word):
        if len(word) > 10 or not 0 <= int(word) <= MOST_SEED:
            raise GroundtoneError(f"the seed {word[:24]} will not do: give --twin a whole number from 0 to {MOST_SEED}")
        return TwinChoice(mat_of(int(word), layout_id), None, fast)
    path = Path(word)
    try:
        scenario = Scenario.from_json(path.read_text("utf-8"))
    except OSError as error:
        raise GroundtoneError(
            f"--twin takes a seed (a whole number) or the file of a scenario, and {word!r} is neither"
        ) from error
    except (ValueError, UnicodeDecodeError) as error:
        raise GroundtoneError(f"the scenario {path} cannot be used: {error}") from error
    return TwinChoice(scenario.mat, scenario.act, fast)


def mat_of(seed: int, layout_id: str = USUAL_LAYOUT, wiring: tuple[str, ...] = ()) -> MatSpec:
    """The simulated mat of a seed, in one of the known layouts, its wires wrong where that is said."""
    layout = layout_of(layout_id)
    try:
        return MatSpec(
            seed=seed,
            uid=f"{0x67746D0000000000 | seed % 2**40:016x}",
            layout=layout.id,
            rows=layout.rows,
            columns_per_panel=layout.columns_per_panel,
            row_pitch_mm=layout.row_pitch_mm,
            column_pitch_mm=layout.column_pitch_mm,
            wiring=wiring,
        )
    except ValueError as error:
        raise GroundtoneError(str(error)) from error


def with_one_panel(mat: MatSpec, panel: int) -> MatSpec:
    """The same mat, with nothing on the lines of the panel that is not there."""
    width = mat.columns_per_panel
    other = range((1 - panel) * width, (2 - panel) * width)
    cells = {(row, column) for row in range(mat.rows) for column in other}
    return replace(mat, dead_cells=tuple(sorted({*mat.dead_cells, *cells})))


def usual_practice(seed: int, hand: str, panel: int | None = None) -> Session:
    """What the invented golfer of a practice does: rocks and swings, over the toes at one setup."""
    golfer = GolferSpec(hand=hand)
    on_toes = SwingSpec("good", setup_heel_toe=0.78)
    if panel is not None:
        return Session(golfer, (SwingSpec("good"), on_toes), seed, rocks=2)
    return Session(golfer, (SwingSpec("good"), on_toes, SwingSpec("trail_hang")), seed)
