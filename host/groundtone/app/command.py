"""The command line. Commands that live in files of their own are named in COMMANDS and imported when asked for."""

from __future__ import annotations

import signal
import sys
import threading
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.click_parts import LazyGroup, Number, SpokenHelp
from groundtone.app.console import at_once, say
from groundtone.app.language import LANGUAGES, SPOKEN, tr
from groundtone.errors import GroundtoneError, LostError, sentence_of

OUTSIDE = 1  # the command ran and found something that is not right
WRONG = 2  # the command, or its sound, could not run; what was measured is there all the same
LOST = 3  # the mat was lost on the way


# Where each command lives that is not in this file, "module:name of the click command", and the first sentence of its
# help: the list of commands is there without importing any of them.
COMMANDS: dict[str, tuple[str, str]] = {
    "bands": (
        "groundtone.app.lesson.bands:bands",
        "Where silence ends for a golfer: learnt from their good strikes, or set by the coach.",
    ),
    "build": (
        "groundtone.app.builder.build:build",
        "From an empty table to a mat: resistors, parts, drawings, wiring, firmware, commissioning.",
    ),
    "calibrate": (
        "groundtone.app.calibration.commands:calibrate",
        "Teach the program what this mat's cells read, and how sure that is.",
    ),
    "check": (
        "groundtone.app.calibration.commands:check",
        "Can this mat be trusted today? The golfer stands on it and rocks, for about a minute.",
    ),
    "compare": ("groundtone.app.lesson.review:compare_command", "Before and after: two blocks, measure by measure."),
    "export": ("groundtone.app.lesson.export:export", "Write a session as CSV (the default), Parquet or C3D."),
    "feel": (
        "groundtone.app.lesson.feel:feel_command",
        "What a golfer commands on purpose, how well they feel it, and where their good strikes come from.",
    ),
    "latency": (
        "groundtone.app.tones.latency:latency",
        "Measure the way from foot to ear on the simulated mat, part by part.",
    ),
    "library": ("groundtone.app.lesson.library:library", "Golfers and their recorded sessions."),
    "practise": (
        "groundtone.app.live.practise:practise",
        "Practise: step on, rock once, hit balls, and hear each of them.",
    ),
    "page": (
        "groundtone.app.lesson.page:page_command",
        "The page to take home: HTML, the same as PDF, and a card for a message.",
    ),
    "plan": (
        "groundtone.app.lesson.feel:plan_command",
        "What to hit next: clubs from blocked to mixed, a tone that fades, a silent test, and another on a later day.",
    ),
    "progress": (
        "groundtone.app.lesson.progress:progress_command",
        "Progress of a GOLFER over lessons: a table, and a picture.",
    ),
    "review": (
        "groundtone.app.lesson.review:review_command",
        "Swings of a recording with their measures and findings.",
    ),
    "sound": (
        "groundtone.app.tones.sound:sound",
        "List sound cards, choose how it sounds, hear each sound with its name.",
    ),
    "strike": ("groundtone.app.lesson.strike:strike", "Tell where the ball met the face."),
    "from-mat": (
        "groundtone.app.live.from_mat:from_mat",
        "Fetch the swings that the mat noted while it was alone; what was fetched before does not come twice.",
    ),
    "to-mat": (
        "groundtone.app.live.to_mat:to_mat",
        "Put calibration, limits, weight and hand onto the mat, so that the mat itself knows where the pressure is.",
    ),
    "window": (
        "groundtone.app.window.main:window",
        "The coach's window: pupils, build, check, practise, review, hand over.",
    ),
}


# Somebody stands on the mat or waits for the window: what was left is put into the library afterwards, or beside.
_FILED_LATER = ("practise", "window")
_READS_ONLY = {"--help", "rebuild", "check"}


@click.group(cls=LazyGroup, elsewhere=COMMANDS)
@click.version_option(package_name="groundtone")
@click.option(
    "--language", type=click.Choice(list(LANGUAGES)), help="What is said is said in this language.",
    is_eager=True, expose_value=False, callback=lambda _, __, code: SPOKEN.begin(code) if code else None,
)  # fmt: skip
@click.pass_context
def cli(context: click.Context) -> None:
    """Hear where your weight goes: a pressure mat for golf."""
    if context.invoked_subcommand not in _FILED_LATER and not _READS_ONLY & set(sys.argv):
        file_what_is_left()


def file_what_is_left() -> None:
    """Puts sessions into the library that a kill or a power cut kept out of it, and says so."""
    from groundtone.files import data_folder
    from groundtone.record.unfiled import unfiled

    if unfiled(data_folder()):
        from groundtone.app.live.recording import file_unfiled

        at_once("Putting a session into the library that was not ended in order.")
        file_unfiled(lambda sentence: click.echo(sentence, err=True))


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
    at_once("Getting ready.")
    from groundtone.app.live.demo import demo as run_demo

    console = Console()
    result = run_demo(console, seed=seed, hand=hand, weight_kg=weight, fast=fast, out=out)
    if not result.right:
        wrong = ", ".join(str(swing.number) for swing in result.swings if not swing.right)
        say(console, f"What was heard is not right in swing {wrong or '(none was found)'}.")
        sys.exit(OUTSIDE)


@cli.command()
@click.option("--licences", is_flag=True, help="List every package with its licence instead.")
def doctor(licences: bool) -> None:
    """Which mats, ports, sound cards and versions are there, what is wrong and how to mend it."""
    if licences:
        from groundtone.app.licences import licences as stated

        for each in stated():
            click.echo(f"{each.name} {each.version}: {each.licence}{f' ({each.wanted_by})' if each.wanted_by else ''}")
        return
    at_once("Looking at everything.")
    from groundtone.app.doctor import doctor as run_doctor

    console = Console()
    wrong = run_doctor(console)
    say(console, "Everything is fine." if not wrong else f"{wrong} to mend.")
    sys.exit(OUTSIDE if wrong else 0)


@cli.command(hidden=True, context_settings={"ignore_unknown_options": True})
@click.argument("_", nargs=-1)
def listen(_: tuple[str, ...]) -> None:
    """Moved: practise does it."""
    raise GroundtoneError("listen has become practise: groundtone practise takes its options (no mat yet: --no-wait)")


@cli.command(hidden=True, context_settings={"ignore_unknown_options": True})
@click.argument("_", nargs=-1)
def bench(_: tuple[str, ...]) -> None:
    """Moved: the studies run from the source."""
    raise GroundtoneError("bench has left the program: make study, in the folder of its source, lists and runs studies")


def main(arguments: list[str] | None = None) -> None:
    """Entry point: every failure a person can act on is one sentence on stderr and an exit code, never a traceback."""
    _end_in_order()
    click.Context.formatter_class = SpokenHelp
    try:
        SPOKEN.begin(None)
        cli.main(args=arguments, prog_name="groundtone", standalone_mode=True)
    except LostError as error:
        _say(error)
        sys.exit(LOST)
    except GroundtoneError as error:
        _say(error)
        sys.exit(WRONG)


def _end_in_order() -> None:
    """A service that is stopped, or a log-out, ends what runs as Ctrl-C does: in order, what was recorded filed."""
    if threading.current_thread() is not threading.main_thread():
        return
    for name in ("SIGTERM", "SIGHUP"):
        # Who is deaf to it from the start (nohup) stays so.
        if hasattr(signal, name) and signal.getsignal(getattr(signal, name)) is signal.SIG_DFL:
            signal.signal(getattr(signal, name), signal.default_int_handler)


def _say(error: GroundtoneError) -> None:

    click.echo(f"groundtone: {tr(sentence_of(error))}", err=True)
