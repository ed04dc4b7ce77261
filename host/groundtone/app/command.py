"""The command line. Commands that live in files of their own are named in COMMANDS and imported when asked for."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.arguments import Number
from groundtone.app.lazy import LazyGroup
from groundtone.errors import GroundtoneError, LostError

OUTSIDE = 1  # the command ran and found something that is not right
WRONG = 2  # the command, or its sound, could not run; what was measured is there all the same
LOST = 3  # the mat was lost on the way


# Where each command lives that is not in this file: "module:name of the click command".
COMMANDS: dict[str, str] = {
    "bands": "groundtone.app.lesson.bands:bands",
    "build": "groundtone.app.builder.build:build",
    "calibrate": "groundtone.app.calibration.commands:calibrate",
    "check": "groundtone.app.calibration.commands:check",
    "compare": "groundtone.app.lesson.review:compare_command",
    "export": "groundtone.app.lesson.export:export",
    "latency": "groundtone.app.tones.latency:latency",
    "library": "groundtone.app.lesson.library:library",
    "practise": "groundtone.app.live.practise:practise",
    "page": "groundtone.app.lesson.page:page_command",
    "progress": "groundtone.app.lesson.progress:progress_command",
    "review": "groundtone.app.lesson.review:review_command",
    "sound": "groundtone.app.tones.sound:sound",
    "strike": "groundtone.app.lesson.strike:strike",
    "window": "groundtone.app.window.main:window",
}


@click.group(cls=LazyGroup, elsewhere=COMMANDS)
@click.version_option(package_name="groundtone")
def cli() -> None:
    """Hear where your weight goes: a pressure mat for golf."""


@cli.command()
@click.option("--fast", is_flag=True, help="As fast as it can instead of real time; nothing is heard, all is written.")
@click.option(
    "--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Draws mat, golfer and order."
)
@click.option("--hand", type=click.Choice(["right", "left"]), default="right", show_default=True)
@click.option("--weight", type=Number(25, 130, "kg"), default=80.0, show_default=True, help="Golfer's mass, kg.")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out/demo"), show_default=True)
def demo(fast: bool, seed: int, hand: str, weight: float, out: Path) -> None:
    """A simulated golfer hits six balls; you hear and see what a mat would tell."""
    from groundtone.app.display import say
    from groundtone.app.live.demo import demo as run_demo

    console = Console()
    result = run_demo(console, seed=seed, hand=hand, weight_kg=weight, fast=fast, out=out)
    if not result.right:
        wrong = ", ".join(str(swing.number) for swing in result.swings if not swing.right)
        say(console, f"What was heard is not right in swing {wrong or '(none was found)'}.")
        sys.exit(OUTSIDE)


@cli.command()
@click.option("--port", help="Serial port or ble:NAME; without it the one mat that is there.")
@click.option("--profile", type=click.Path(dir_okay=False, path_type=Path), help="The mat's calibration.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="Without it as the library has it, else right.")
@click.option("--rate", type=click.IntRange(50, 200), default=100, show_default=True, help="Frames a second.")
@click.option("--stance", type=Number(100, 900, "mm"), default=400.0, show_default=True, help="Between panels, mm.")
@click.option("--shoe", type=Number(150, 360, "mm"), help="Outer length of the shoes, mm, where it is known.")
@click.option("--seconds", type=Number(1, 86400, "s"), help="End after so long; without it Ctrl-C ends it.")
@click.option("--search", type=Number(0, 3600, "s"), default=60.0, help="Look so long for a mat that was lost.")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), help="Write tones.wav and lanes.png here.")
@click.option("--golfer", default="", help="Code name; the session goes to them in the library.")
@click.option("--block", type=click.Choice(["baseline", "drill", "test", "free"]), default="free", show_default=True)
@click.option("--club", default="", help="The club, in your words.")
@click.option("--lie", type=click.Choice(["mat", "turf", "tee"]), default=None, help="Where the ball lies.")
@click.option("--usual", type=Number(1, 400, "m"), help="Usual distance with this club, m.")
@click.option("--record/--no-record", default=True, help="Record the session (the default), or not.")
@click.option("--panel", type=click.Choice(["left", "right"]), help="This panel alone is there: toes cue, no swings.")
@click.option("--twin", is_flag=False, flag_value="1", help="Try it on the simulated mat of this seed (or scenario).")
@click.option("--layout", default="reference-16x4", show_default=True, help="Layout of the simulated mat.")
@click.option("--fast", is_flag=True, help="The simulated mat as fast as it can; nothing is heard.")
def listen(
    port: str | None,
    profile: Path | None,
    hand: str | None,
    rate: int,
    stance: float,
    shoe: float | None,
    seconds: float | None,
    search: float,
    out: Path | None,
    golfer: str,
    block: str,
    club: str,
    lie: str | None,
    usual: float | None,
    record: bool,
    panel: str | None,
    twin: str | None,
    layout: str,
    fast: bool,
) -> None:
    """Stand on a mat and hear it."""
    from groundtone.app.live.listen import listen as run_listen
    from groundtone.app.live.recording import Wish
    from groundtone.mat.layout import PANELS

    if twin is not None and port is not None:
        raise GroundtoneError("--port names a real mat and --twin a simulated one: give one of them")
    choice = None
    if twin is not None or fast:
        from groundtone.app.opening import twin_choice

        choice = twin_choice(twin, layout, fast)
    run_listen(
        Console(),
        port=port,
        profile=profile,
        hand=hand,
        rate_hz=rate,
        stance_mm=stance,
        shoe_mm=shoe,
        seconds=seconds,
        out=out,
        wish=Wish(record, golfer, block, club, lie or "", usual),
        panel=PANELS.index(panel) if panel is not None else None,
        twin=choice,
        search_s=search,
    )


@cli.command()
def doctor() -> None:
    """Which mats, ports, sound cards and versions are there, what is wrong and how to mend it."""
    from groundtone.app.display import say
    from groundtone.app.doctor import doctor as run_doctor

    console = Console()
    wrong = run_doctor(console)
    say(console, "Everything is fine." if not wrong else f"{wrong} to mend.")
    sys.exit(OUTSIDE if wrong else 0)


@cli.command(hidden=True, context_settings={"ignore_unknown_options": True})
@click.argument("_", nargs=-1)
def bench(_: tuple[str, ...]) -> None:
    """Moved: the studies run from the source."""
    raise GroundtoneError("bench has left the program: make study, in the folder of its source, lists and runs studies")


def main(arguments: list[str] | None = None) -> None:
    """Entry point: every failure a person can act on is one sentence on stderr and an exit code, never a traceback."""
    try:
        cli.main(args=arguments, prog_name="groundtone", standalone_mode=True)
    except LostError as error:
        _say(error)
        sys.exit(LOST)
    except GroundtoneError as error:
        _say(error)
        sys.exit(WRONG)


def _say(error: GroundtoneError) -> None:
    from groundtone.app.saying import sentence_of

    click.echo(f"groundtone: {sentence_of(error)}", err=True)
