"""The command `groundtone strike`: tells where the ball met the face, after a session."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.click_parts import Number
from groundtone.app.console import say
from groundtone.app.lesson.targets import recording_path
from groundtone.app.live.recording import into_library, recordings_folder
from groundtone.errors import GroundtoneError
from groundtone.lesson.strike_counts import count, kept_word
from groundtone.record.channels import Channel
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.review.session_review import Review, ReviewedSwing, review
from groundtone.review.strikes import CENTRE_CIRCLE_MM, KEYS, Strike, StrikeError, in_words, press, read_entry, table_of

_NEXT, _BACK, _END = ("\r", "\n", " ", "\t"), ("\x7f", "\b"), ("q", "\x1b", "\x04", "")


@click.command()
@click.argument("target", default="last")
@click.argument("entry", required=False)
@click.option("--swing", "number", type=click.IntRange(1), help="Which swing; else the first that nothing was told of.")
@click.option("--undo", is_flag=True, help="Take back what was told of the swing (else of the last one told).")
@click.option("--yards", is_flag=True, help="Distances in yards.")
@click.option(
    "--circle",
    type=Number(1, 60, "mm"),
    default=CENTRE_CIRCLE_MM,
    show_default=True,
    help="Centre circle's radius, mm.",
)
def strike(target: str, entry: str | None, number: int | None, undo: bool, yards: bool, circle: float) -> None:
    """Tell where the ball met the face.

    TARGET is a recording as for `review`; ENTRY is told in keys, all optional: 1-9 place on the face as on a number
    block (heel on the left, 5 the centre), c clean, t thin, f fat, o topped, s shank, l m r where the ball started,
    d140 distance, mm=-12,3 a measured place. Without ENTRY single keys go through the swings; Enter or space is next.
    """
    console = Console()
    path = recording_path(target)
    seen = review(open_recording(path))
    balls = [each for each in seen.swings if each.swing.kind.value == "swing"]
    if not balls:
        raise GroundtoneError("there is no swing in this recording to tell a strike of")
    if undo:
        told = [each for each in balls if each.strike.told]
        each = _numbered(balls, number) if number else (told[-1] if told else None)
        if each is None or not each.strike.told:
            raise GroundtoneError("nothing was told that could be taken back")
        append(path, [(Channel.STRIKE, table_of(Strike(), each.when_s, each.entry))])
        say(console, f"Swing {each.swing.number}: taken back ({in_words(each.strike)}).")
    elif entry is not None:
        each = _numbered(balls, number) if number else _first_untold(balls)
        fresh = read_entry(entry, yards=yards)
        if not fresh.told:
            raise StrikeError(f"nothing is told by {entry!r}: {KEYS}")
        append(path, [(Channel.STRIKE, table_of(fresh, each.when_s, each.entry))])
        say(console, f"Swing {each.swing.number}: {in_words(fresh)}.")
    else:
        if not sys.stdin.isatty():
            raise GroundtoneError(
                "single keys need a terminal: give an entry instead, as in groundtone strike last '6 t'"
            )
        _by_keys(console, balls, path)
    _into_library(console, path)
    _counts(console, review(open_recording(path)), circle)


def _numbered(balls: list[ReviewedSwing], number: int) -> ReviewedSwing:
    for each in balls:
        if each.swing.number == number:
            return each
    there = ", ".join(str(each.swing.number) for each in balls)
    raise GroundtoneError(f"there is no swing {number} at a ball: there are {there}")


def _first_untold(balls: list[ReviewedSwing]) -> ReviewedSwing:
    for each in balls:
        if not each.strike.told:
            return each
    raise GroundtoneError("every swing has its strike: name one with --swing to tell it anew")


def _by_keys(console: Console, balls: list[ReviewedSwing], path: Path) -> None:
    """One key after the other; what was told of a swing is written when it is left."""
    say(console, f"Keys: {KEYS}. Enter or space: next swing, backspace: the one before, q: end.")
    at = next((i for i, each in enumerate(balls) if not each.strike.told), 0)
    while 0 <= at < len(balls):
        each = balls[at]
        told = each.strike
        say(console, f"Swing {each.swing.number} of {len(balls)}: {in_words(told)}")
        step = 1
        while True:
            key = click.getchar()
            if key in _END:
                step = len(balls)
                break
            if key in _NEXT or key in _BACK:
                step = 1 if key in _NEXT else -1
                break
            try:
                told = Strike() if key.lower() == "u" else press(told, key)
            except StrikeError as error:
                say(console, str(error))
                continue
            say(console, f"  {in_words(told)}")
        if told != each.strike:
            append(path, [(Channel.STRIKE, table_of(told, each.when_s, each.entry))])
        at = max(at + step, 0)


def _into_library(console: Console, path: Path) -> None:
    if path.resolve().is_relative_to(recordings_folder().resolve()) and (sentence := into_library(path)):
        say(console, sentence)


def _counts(console: Console, seen: Review, circle_mm: float) -> None:
    strikes = [each.strike for each in seen.swings]
    usual = seen.recording.blocks[-1].usual_m
    counted = count(strikes, radius_mm=circle_mm, usual_m=usual)
    if counted.placed:
        low, high = counted.inside_interval
        say(
            console,
            f"Inside the centre circle ({circle_mm:g} mm): {counted.inside} of {counted.placed} "
            f"({100 * low:.0f} to {100 * high:.0f} %).",
        )
    if usual and counted.kept == counted.kept:
        word = kept_word(counted.kept).replace("_", " ")
        say(console, f"Distance kept: {100 * counted.kept:.0f} % of the usual {usual:g} m (median), {word}.")
    if counted.ellipse is not None:
        x, y = counted.ellipse.centre_mm
        a, b = counted.ellipse.major_mm, counted.ellipse.minor_mm
        say(
            console,
            f"Spread of the places: around {x:+.0f} mm towards the toe and {y:+.0f} mm up, 95 % within {a:.0f} by "
            f"{b:.0f} mm of it.",
        )
    if any(block.lie == "mat" for block in seen.recording.blocks):
        say(console, "An artificial mat hides fat strikes.")
