"""`groundtone calibrate standing`: a person of known mass rocks on the mat, and a profile comes of it."""

from __future__ import annotations

import contextlib
import datetime
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Console

from groundtone.app.calibration.following import Over, PersonScreen, Wanted, follow
from groundtone.app.console import say
from groundtone.app.json_lines import line
from groundtone.app.mat import real_mat, twin_mat
from groundtone.app.tones.sounding import sound_for
from groundtone.app.twin import TwinChoice
from groundtone.calibration.fitting.expected import TYPICAL
from groundtone.calibration.own_profile import profile_path, set_aside
from groundtone.calibration.pooled_films import expected_film, expected_here
from groundtone.calibration.profile import Profile, read_profile, write_profile
from groundtone.calibration.shoes.standing import Ask, StandingResult, StandingRun
from groundtone.errors import CalibrationError
from groundtone.files import try_place
from groundtone.mat.layout import Layout
from groundtone.twin.scenario import GolferSpec, Standing
from groundtone.wire.messages import Hello

RATE_HZ = 44  # 50 and 60 Hz both turn at this rate, so that hum is told from loads
SIMULATED = "simulated: a simulated person stood on the twin"

_SENTENCES = {
    Ask.STEP_OFF: "Step off: the empty mat is to be looked at first.",
    Ask.EMPTY: "Keep off for two seconds.",
    Ask.STEP_ON: "One foot on each panel, in the shoes whose mass you stated.",
    Ask.ROCK: "Slowly round: heels, over one foot, toes, over the other; and over the edges of the feet.",
    Ask.LEAVE: "Enough. Step off and stay off: the film shows what it remembers.",
    Ask.DONE: "Enough. Step off.",
}


@dataclass(frozen=True)
class StandingWish:
    """What was asked for on the command line; see `groundtone.app.calibration.bench_run.BenchWish`."""

    mass_kg: float
    port: str | None
    twin: TwinChoice | None
    profile: Path | None
    device_time: bool = False


def standing(console: Console, wish: StandingWish) -> None:
    """The procedure.

    Raises
    ------
    GroundtoneError
        With one sentence; no profile is changed then.
    """
    with contextlib.ExitStack() as stack:
        if wish.twin is None:
            opened = stack.enter_context(real_mat(wish.port, device_time=wish.device_time))
        else:
            given = wish.twin.act if isinstance(wish.twin.act, Standing) else None
            act = given or Standing(GolferSpec(mass_kg=wish.mass_kg), seed=wish.twin.mat.seed)
            opened = stack.enter_context(twin_mat(wish.twin, act))
        hello, layout = opened.link.hello, opened.layout
        # A named place may be empty yet: that is where the profile goes.
        path = wish.profile or profile_path(hello.uid)
        try_place(path)
        before = _before(path, hello, layout, console)
        expected = expected_here(hello.uid) if before is None else TYPICAL
        film = before.film if before is not None else expected_film(layout.rows, layout.columns, expected)
        begun = f"what {expected.mats} pooled films say" if expected.mats else "the film's typical curve"
        what = f"the profile {path}" if before is not None else begun
        say(console, f"It starts from {what} and takes about a minute. Ctrl-C ends it and changes nothing.")
        run = StandingRun(layout, film, wish.mass_kg, expected=expected)
        output = sound_for(opened.fast)
        stack.callback(output.close)
        output.start()

        def take(t_s: float, conductance_s: NDArray[np.float64]) -> Wanted:
            ask = run.step(t_s, conductance_s)
            return Wanted(ask.value, _SENTENCES[ask], run.progress, ask is Ask.DONE)

        with PersonScreen(console, f"groundtone, standing calibration of {hello.name}") as screen:
            if follow(opened, RATE_HZ, take, output, screen) is Over.ENDED:
                raise CalibrationError("the standing calibration was ended before it was done: nothing was changed")
    result = run.result()
    _write(path, before, result, wish, hello.uid, layout, expected.sentence)
    _report(console, path, result, layout, before is not None)
    line(
        console, "result", "written", exit=0, profile=str(path), postures=result.postures, total_left=result.left,
        mass_kg=result.mass_kg, mass_95=2 * result.mass_u, known_before=before is not None,
        unseen=[list(cell) for cell in result.unseen],
    )  # fmt: skip


def _before(path: Path, hello: Hello, layout: Layout, console: Console) -> Profile | None:
    """What is known of this mat; nothing where its layout is another by now, for then its cells are others."""
    if not path.exists():
        return None
    before = read_profile(path)
    same = before.layout == layout.id and layout.as_in(before.layout_digest) is not None
    if before.uid == hello.uid and not same:
        say(console, f"The profile was made for layout {before.layout}, and the mat is {layout.id} now (or its "
                     "file was changed): it is kept under another name, and this begins anew.")  # fmt: skip
        return None
    before.check_mat(hello, layout)
    return before


def _write(
    path: Path, before: Profile | None, result: StandingResult, wish: StandingWish, uid: str, layout: Layout, prior: str
) -> None:
    date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    note = "; ".join(filter(None, [f"standing: a person of {wish.mass_kg:g} kg", prior]))
    if wish.twin is not None:
        note = f"{SIMULATED}; {note}"
    set_aside(path)
    if before is not None:
        write_profile(path, replace(before, date=date, film=result.film, note=f"{before.note}; {note}".strip("; ")))
        return
    film = result.film
    write_profile(path, Profile(uid, layout.id, layout.digest, date, (), result.left, film, note))


def _report(console: Console, path: Path, result: StandingResult, layout: Layout, known: bool) -> None:
    say(console, f"Profile written: {path}")
    alone = f"By itself the mat would have said {result.mass_kg:.0f} kg within {200 * result.mass_u:.0f} %."
    if not known:
        alone = "The film was unknown: its level and its exponent follow from the stated mass."
    left = f"{result.postures} postures; the total keeps to the weight within {100 * result.left:.1f} %."
    say(console, f"{left} {alone}")
    unseen = len(result.unseen)
    if unseen and known:
        say(console, f"It learnt nothing new of {unseen} of {layout.cells} cells: they keep what was known of them.")
    elif unseen:
        say(
            console,
            f"{unseen} of {layout.cells} cells were hardly seen, mostly those that no sole touches; they keep the "
            "typical curve. A bench run measures them.",
        )
