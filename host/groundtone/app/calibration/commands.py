"""The commands `groundtone calibrate …` and `groundtone check`: their options, and nothing else."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console

from groundtone.app.click_parts import LazyGroup, Mass, Number, simulated_layout
from groundtone.app.console import say
from groundtone.app.json_lines import JsonLines, guided
from groundtone.app.language import tr
from groundtone.errors import CalibrationError, GroundtoneError, Telling

if TYPE_CHECKING:
    from groundtone.app.twin import TwinChoice

_FILE = click.Path(dir_okay=False, path_type=Path)
_OUTSIDE = 1


def _of_a_mat(command: Callable[..., None]) -> Callable[..., None]:
    """The options that name a mat, a port or the twin (a `TwinChoice` or None for the command), and of `guided`."""

    @guided
    @functools.wraps(command)
    def chosen(*, twin: str | None, layout_id: str, fast: bool, **others: Any) -> None:
        from groundtone.app.twin import twin_choice

        command(twin=twin_choice(twin, layout_id, fast), **others)

    for option in (
        click.option("--fast", is_flag=True, help="The simulated mat as fast as it can; nothing is heard."),
        simulated_layout,
        click.option(
            "--twin", is_flag=False, flag_value="1", help="Try it on the simulated mat of this seed (or scenario)."
        ),
        click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken."),
    ):
        chosen = option(chosen)
    return chosen


@click.group(cls=LazyGroup, elsewhere={})
def calibrate() -> None:
    """Teach the program what this mat's cells read, and how sure that is."""


@calibrate.command()
@click.option("--mass", "masses", type=Mass(0.02, 60), multiple=True, help="A weight you have, kg; repeat it.")
@click.option(
    "--weighed", is_flag=True, help="These masses were weighed on a scale (else they count as known within 3 %)."
)
@click.option("--weights", "weight_file", type=_FILE, help="A weight set, TOML; see calibration/weights.")
@click.option(
    "--minutes", type=Number(1, 240, "minutes"), default=45.0, show_default=True, help="No longer plan than this."
)
@_of_a_mat
@click.option("--resume", is_flag=True, help="Go on with the run that was stopped.")
@click.option("--anew", is_flag=True, help="Begin anew; the earlier run's file is kept under another name.")
@click.option(
    "--strip", type=(click.Choice(["left", "right"]), int), metavar="PANEL COLUMN",
    help="This strip of film was replaced: its cells again, and no others.",
)  # fmt: skip
@click.option("--profile", "--out", type=_FILE, help="Where the profile goes; without it, into the mat's own place.")
@click.option("--map", "map_path", type=_FILE, help="Write a picture of the coverage here in the end, PNG.")
@click.option("--wait", type=Number(0, 3600, "s"), default=60.0, show_default=True, help="Wait for a lost mat so long.")
def bench(
    masses: tuple[float, ...],
    weighed: bool,
    weight_file: Path | None,
    minutes: float,
    port: str | None,
    twin: TwinChoice | None,
    resume: bool,
    anew: bool,
    strip: tuple[str, int] | None,
    profile: Path | None,
    map_path: Path | None,
    wait: float,
    console: Console,
    device_time: bool,
) -> None:
    """Cell by cell with known weights: guided, stoppable, resumable.

    Weigh gym plates first: they are often several per cent off their mark. A jug of water on a kitchen scale is a good
    weight. Where weights and golfer share a place, gravity cancels, and kilograms are all that is needed.
    """
    from groundtone.app.calibration.bench_run import BenchWish
    from groundtone.app.calibration.bench_run import bench as run_bench
    from groundtone.calibration.guided.weight_sets import read_weight_set, set_of_masses

    if strip is not None and anew:
        raise CalibrationError("name --strip or --anew, not both")
    if masses and weight_file is not None:
        raise CalibrationError("name --mass or --weights, not both")
    weights = read_weight_set(weight_file) if weight_file is not None else None
    if masses:
        weights = set_of_masses(masses, weighed=weighed)
    wish = BenchWish(weights, minutes, port, twin, resume, anew, profile, wait, map_path, device_time, strip)
    sys.exit(0 if run_bench(console, wish) else _OUTSIDE)


@calibrate.command()
@click.option("--mass", required=True, type=Mass(20, 160), help="Of the person with clothes and shoes, kg.")
@_of_a_mat
@click.option("--profile", "--out", type=_FILE, help="The mat's profile: begun with where it is there, and written.")
def standing(
    mass: float, port: str | None, twin: TwinChoice | None, profile: Path | None, console: Console, device_time: bool
) -> None:
    """In a minute, by a person of known mass who rocks on the mat."""
    from groundtone.app.calibration.standing_run import StandingWish
    from groundtone.app.calibration.standing_run import standing as run_standing

    run_standing(console, StandingWish(mass, port, twin, profile, device_time))


@calibrate.command()
@click.argument("profile", type=_FILE)
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), help="Write certificate.txt and .png here.")
def certificate(profile: Path, out: Path | None) -> None:
    """What a profile says of its mat: curve, residuals, gains, uncertainty."""
    from groundtone.calibration.pages.certificate import certificate_lines
    from groundtone.calibration.pages.certificate_page import draw_certificate
    from groundtone.calibration.profile import read_profile

    console = Console()
    known = read_profile(profile)
    lines = certificate_lines(known, tr)
    for line in lines:
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    if out is None:
        return
    with Telling(GroundtoneError, f"the folder {out} cannot be written", "choose another"):
        out.mkdir(parents=True, exist_ok=True)
        (out / "certificate.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    draw_certificate(out / "certificate.png", known)
    say(console, f"Written: {out / 'certificate.txt'} and {out / 'certificate.png'}")


@calibrate.command()
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("drawings"), show_default=True)
def drawings(out: Path) -> None:
    """The drawings of the calibration guide, as SVG files."""
    from groundtone.calibration.pages.drawings import draw_all

    console = Console()
    for path in draw_all(out):
        say(console, f"Written: {path}")


@calibrate.command("film-out")
@click.argument("profiles", nargs=-1, required=True, type=_FILE)
@click.option("--out", type=_FILE, default=Path("films.json"), show_default=True, help="The file to be written.")
def film_out(profiles: tuple[Path, ...], out: Path) -> None:
    """What mats' calibrations say of their film, to be pooled: nothing of a person, and no mat's id."""
    from groundtone.calibration.checking.check_log import read_checks
    from groundtone.calibration.own_profile import checks_path
    from groundtone.calibration.pooled_films import facts_of, write_films
    from groundtone.calibration.profile import read_profile

    films = [facts_of(read_profile(path), read_checks(checks_path(path))) for path in profiles]
    write_films(out, films)
    say(Console(), f"What {_mats(len(films))} film is in {out}: 'groundtone calibrate film-in' takes it in.")


@calibrate.command("film-in")
@click.argument("files", nargs=-1, required=True, type=_FILE)
def film_in(files: tuple[Path, ...]) -> None:
    """Take in what other mats say of their film: the next calibrations expect a film like theirs."""
    from groundtone.calibration.pooled_films import expect, films_path, taken_in

    films, new = taken_in(files)
    console, expected = Console(), expect(films)
    are = "1 mat is" if new == 1 else f"{new} mats are"
    say(console, f"{are} new, {len(films)} in all, in {films_path()}: without that file all is as it was.")
    if expected.mats:
        say(console, f"From now on {expected.sentence}.")
    else:
        say(console, "One mat does not tell how films differ: nothing changes until a second one is taken in.")


def _mats(count: int) -> str:
    return f"{count} mat says of its" if count == 1 else f"{count} mats say of their"


@click.command()
@click.option("--mass", type=Mass(20, 160), help="Of the person who stands there, with clothes and shoes, kg.")
@click.option("--weight", type=Mass(1, 50), help="A known weight, kg, that you lay on each panel's mark first.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="The golfer's hand; without it the check asks.")
@click.option("--new-board", is_flag=True, help="The mat of --profile has got this board: its profile moves to it.")
@click.option("--history", "show_history", is_flag=True, help="Show the earlier checks of this mat: how it ages.")
@_of_a_mat
@click.option(
    "--profile", type=click.Path(dir_okay=False, path_type=Path), help="The mat's profile; without it, its own place."
)
def check(
    mass: float | None,
    weight: float | None,
    hand: str | None,
    new_board: bool,
    show_history: bool,
    port: str | None,
    twin: TwinChoice | None,
    profile: Path | None,
    console: Console,
    device_time: bool,
) -> None:
    """Can this mat be trusted today? The golfer stands on it and rocks, for about a minute.

    The exit code is the verdict: 0 ready, 1 ready with correction, 2 not fit.
    """
    from groundtone.app.calibration.check_run import CheckWish, history
    from groundtone.app.calibration.check_run import check as run_check

    wish = CheckWish(mass, weight, hand, port, twin, profile, device_time, new_board)
    if show_history:
        if isinstance(console, JsonLines):
            raise GroundtoneError("--history is a table for eyes: ask for it without --json-lines")
        history(console, wish)
        return
    sys.exit(run_check(console, wish))
