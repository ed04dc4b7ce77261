"""The commands `groundtone review` and `groundtone compare`: what a recorded session showed. Printing only."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click
from rich import box
from rich.console import Console
from rich.table import Table

from groundtone.app.console import say, turned
from groundtone.app.lesson.targets import recording_path, split_block
from groundtone.app.tables import per_cent
from groundtone.cue.personal import called_faults
from groundtone.errors import GroundtoneError, Telling
from groundtone.files import write_whole
from groundtone.lesson.compare import Comparison, compare_blocks
from groundtone.lesson.export_files import write_table
from groundtone.lesson.lesson_measures import LessonMeasure, lesson_measures
from groundtone.lesson.outside import count_words, faults_of
from groundtone.lesson.pair import Pair, the_pair
from groundtone.lesson.strike_counts import count
from groundtone.lesson.strike_links import strike_links
from groundtone.record.channels import without_nan
from groundtone.record.reader import open_recording
from groundtone.review.feet_words import feet_rows, feet_sentence
from groundtone.review.lane import heard_in
from groundtone.review.session_review import Review, ReviewedSwing, review
from groundtone.review.settings import stance_in
from groundtone.review.strikes import in_words
from groundtone.review.swings import BlockRows, contacts_of
from groundtone.swing.doubts import Measure
from groundtone.swing.events import Kind

_KIND_WORDS = {Kind.SWING: "swing", Kind.PRACTICE: "practice", Kind.REHEARSAL: "slow", Kind.PUTT: "putt"}
# 95 % of a normal distribution lie within so many standard deviations of its middle.
_NORMAL_95 = 1.96
_PROFILE = click.option(
    "--profile", type=click.Path(dir_okay=False, path_type=Path), help="Measure with this profile, not the recorded."
)
_PNG = click.Path(dir_okay=False, path_type=Path)
_COACH = click.option("--fault", "coach", multiple=True, help="A finding that you call a fault in any case, by name.")


@click.command()
@click.argument("target", default="last")
@click.option("--json", "as_json", is_flag=True, help="All measures and findings as JSON.")
@click.option("--csv", "csv", type=click.Path(dir_okay=False, path_type=Path), help="One line a swing, into this file.")
@click.option("--lanes", type=click.Path(dir_okay=False, path_type=Path), help="Draw the swings: a PNG or SVG file.")
@click.option("--paths", type=click.Path(dir_okay=False, path_type=Path), help="Draw the centre's path over the feet.")
@click.option("--swing", "only", type=click.IntRange(1), help="All measures of this swing.")
@_PROFILE
@_COACH
def review_command(
    target: str,
    as_json: bool,
    csv: Path | None,
    lanes: Path | None,
    paths: Path | None,
    only: int | None,
    profile: Path | None,
    coach: tuple[str, ...],
) -> None:
    """Swings of a recording with their measures and findings.

    TARGET is a file, the beginning of a session's id, or `last`.
    """
    console = Console()
    check_faults(coach)
    seen = review(open_recording(recording_path(target)), profile, coach=coach)
    if csv is not None:
        write_table(csv, seen.columns())
    if lanes is not None:
        from groundtone.lesson.lane_picture import write_lanes

        write_lanes(lanes, [seen.lane(each) for each in seen.swings if each.swing.impact is not None])
    if paths is not None:
        from groundtone.lesson.path_picture import path_of_swing, write_paths

        stance, layout = stance_in(seen.recording.about.settings), seen.recording.layout
        drawn = (
            path_of_swing(
                f"Swing {each.swing.number}", {name: at for name, (at, _, _) in each.events.items()},
                seen.measured.series, stance, layout,
            )
            for each in seen.swings if only in (None, each.swing.number)
        )  # fmt: skip
        write_paths(paths, [path for path in drawn if path is not None])
    if as_json:
        click.echo(json.dumps(plain(seen), indent=1, allow_nan=False))
        return
    show(console, seen, only)
    for path in filter(None, (csv, lanes, paths)):
        say(console, f"Written: {path}.")


def check_faults(names: tuple[str, ...]) -> None:
    """Refuses findings that do not exist."""
    from groundtone.swing.bands import default_bands

    for name in names:
        default_bands().band(name)


def show(console: Console, seen: Review, only: int | None = None) -> None:
    """Prints a review: doubts first, then the swings, then what the session says as a whole."""
    for sentence in seen.measured.doubts:
        say(console, sentence)
    if only is not None:
        chosen = [each for each in seen.swings if each.swing.number == only]
        if not chosen:
            raise GroundtoneError(f"there is no swing {only}: the recording has {len(seen.swings)}")
        values = {name: measure.value for name, measure in chosen[0].measures.items()}
        console.print(turned(_measures(chosen[0])))
        console.print(turned(_feet(values)))
        if sentence := feet_sentence(values):
            say(console, sentence)
        _say_findings(console, chosen[0])
        return
    if not seen.swings:
        # With one panel alone the doubts have said why.
        if seen.recording.about.settings.panel is None:
            say(console, "No swing was found in this recording.")
        return
    console.print(turned(_swings(seen)))
    for each in seen.swings:
        _say_findings(console, each)
    if any(each.findings for each in seen.swings):
        say(console, "Probable is what a reading shows; the bands themselves are common practice or invented.")
    rows = seen.rows()
    for found in faults_of(rows):
        say(console, count_words(rows, found, seen.recording.blocks[0].club))
    for answer in strike_links(rows):
        say(console, _capital(answer.sentence))
    pair = the_pair(rows, _looked(seen))
    say(console, f"The pair: {pair.sentence}" if pair else "The pair: no two swings differ in strike or findings.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _say_findings(console: Console, each: ReviewedSwing) -> None:
    for finding in each.findings:
        kind = "" if finding.concern else " (described, no fault in every school)"
        drill = f" Drill: {finding.drill_text}" if finding.drill_text else ""
        say(console, f"Swing {each.swing.number}: {finding.title}{kind}, this reading outside its band with "
            f"{100 * finding.probability:.0f} % probability. {finding.sentence}{drill}")  # fmt: skip


def _looked(seen: Review) -> tuple[LessonMeasure, ...]:
    coach, club = called_faults(seen.recording.about.golfer.name), seen.recording.blocks[0].club
    return lesson_measures(club=club, contacts=contacts_of(seen.rows()), coach=coach)


def _swings(seen: Review) -> Table:
    table = Table(
        title="Lead share and heel-toe place in %; place: 0 heel edge to 100 toe edge",
        box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0), title_justify="left",
    )  # fmt: skip
    for name in ("no.", "block", "kind"):
        table.add_column(name, no_wrap=True)
    for name in ("share\nsetup", "share\nimpact", "place\nsetup", "toes\ndown*", "tempo\n(guess)"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("strike")
    for each in seen.swings:
        value = {name: measure.value for name, measure in each.measures.items()}
        tempo = value["tempo"]
        table.add_row(
            str(each.swing.number),
            each.block.kind,
            _KIND_WORDS[each.swing.kind],
            *(per_cent(value[name]) for name in ("share_setup", "share_impact", "overall_setup", "overall_most_down")),
            "-" if math.isnan(tempo) else f"{tempo:.1f}",
            in_words(each.strike) if each.strike.told else "",
        )
    table.caption = "* furthest towards the toes in the downswing"
    table.caption_justify = "left"
    return table


def _feet(values: Mapping[str, float]) -> Table:
    table = Table(title="Heel to toe of each foot, %: 0 heel edge, 100 toe edge", box=box.SIMPLE_HEAD, show_edge=False,
                  title_justify="left")  # fmt: skip
    for name in ("event", "lead foot", "trail foot"):
        table.add_column(name, justify="left" if name == "event" else "right", no_wrap=True)
    for event, lead, trail in feet_rows(values):
        table.add_row(event, per_cent(lead), per_cent(trail))
    return table


def _measures(each: ReviewedSwing) -> Table:
    table = Table(title=f"Swing {each.swing.number}", box=box.SIMPLE_HEAD, show_edge=False, title_justify="left")
    table.add_column("measure")
    table.add_column("value", justify="right")
    table.add_column("standard\nuncertainty", justify="right")
    table.add_column("unit, or why there is none")
    for measure in each.measures.values():
        if measure.known:
            table.add_row(measure.name, f"{measure.value:.4g}", f"{measure.u:.2g}", measure.unit)
        else:
            table.add_row(measure.name, "-", "-", measure.reason)
    return table


def plain(seen: Review) -> dict[str, Any]:
    """A review as JSON's own types; what is not known is null."""
    about = seen.recording.about
    return {
        "session": about.session,
        "started": about.started,
        "golfer": about.golfer.name,
        "simulated": about.simulated,
        "doubts": seen.measured.doubts,
        "cues": [{"cue": cue, "begin_s": begin, "end_s": end} for cue, begin, end in heard_in(seen.recording)],
        "swings": [_plain_swing(each) for each in seen.swings],
        "together": [
            {"measure": a.measure, "against": a.against, "claimed": a.claimed, "sentence": a.sentence}
            for a in strike_links(seen.rows())
        ],
        "pair": _plain_pair(the_pair(seen.rows(), _looked(seen))),
    }


def _plain_pair(pair: Pair | None) -> dict[str, Any] | None:
    if pair is None:
        return None
    return {"clean": pair.clean.number, "poor": pair.poor.number, "sentence": pair.sentence}


def _with_interval(measure: Measure) -> dict[str, Any]:
    """A measure's value between the ends of its 95 % interval."""
    value, half = measure.value, _NORMAL_95 * measure.u
    return {"value": value, "u": measure.u, "low": value - half, "high": value + half, "unit": measure.unit}


def _plain_swing(each: ReviewedSwing) -> dict[str, Any]:
    swing = each.swing
    return {
        "number": swing.number,
        "kind": swing.kind.value,
        "block": each.block.number,
        "events": {
            name: {"t_s": t_s, "source": source, "doubt_s": doubt_s}
            for name, (t_s, source, doubt_s) in each.events.items()
        },
        "measures": {
            m.name: _with_interval(m) if m.known else {"value": None, "unit": m.unit, "reason": m.reason}
            for m in each.measures.values()
        },
        "findings": [
            {
                "name": f.name, "measure": f.measure.name, "probability": f.probability, "size": f.size,
                "concern": f.concern, "strike": f.strike, "sentence": f.sentence, "drill": f.drill_text,
            }
            for f in each.findings
        ],
        "strike": in_words(each.strike) if each.strike.told else None,
    }  # fmt: skip


@click.command()
@click.argument("before", required=False)
@click.argument("after", required=False)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
@click.option("--draw", type=_PNG, help="Draw the swings in their order, with blocks and drift: a PNG file.")
@click.option(
    "--layouts", type=_PNG, help="Compare nothing: print and draw what which lesson can tell, into a PNG file."
)
@click.option("--circle", type=click.FloatRange(1, 60), default=13.0, show_default=True, help="Centre circle, mm.")
@_PROFILE
@_COACH
def compare_command(
    before: str | None, after: str | None, as_json: bool, draw: Path | None, layouts: Path | None, circle: float,
    profile: Path | None, coach: tuple[str, ...],
) -> None:  # fmt: skip
    """Before and after: two blocks, measure by measure.

    BEFORE and AFTER are recordings as for `review`, with a block behind a colon where only that one counts: last:1,
    session.mcap:test. With one recording alone its baseline is compared with its test, and where it has none its blocks
    without the tone with those with it.
    """
    check_faults(coach)
    console = Console()
    if layouts is not None:
        _say_layouts(console, layouts)
        return
    if before is None:
        raise GroundtoneError("name a recording, or say --layouts for what a lesson can tell")
    (seen, first), (other, second) = sides_to_compare(before, after, profile)
    golfer = other.recording.about.golfer.name
    if golfer != seen.recording.about.golfer.name:
        raise GroundtoneError("these two are of different golfers: compare swings of one")
    coach = (*coach, *called_faults(golfer))
    from groundtone.review.library_reader import lessons_known  # the database is slow to load

    result = compare_blocks(first, second, coach=coach, radius_mm=circle, earlier=lessons_known(golfer))
    if draw is not None:
        from groundtone.lesson.blocks_picture import draw_blocks

        words = ("without the tone", "with the tone") if second.cues > first.cues else ("before", "after")
        write_picture(draw, draw_blocks(first, second, [change.looked for change in result.changes], words))
    if as_json:
        click.echo(json.dumps(without_nan(_plain_comparison(first, second, result)), indent=1, allow_nan=False))
        return
    for sentence in dict.fromkeys((*seen.measured.doubts, *other.measured.doubts)):
        say(console, sentence)
    say(console, f"Before: {first.name}, {_swing_count(first)}. After: {second.name}, {_swing_count(second)}.")
    for sentence in result.sentences:
        say(console, _capital(sentence))
    if draw is not None:
        say(console, f"Written: {draw}.")


def _say_layouts(console: Console, path: Path) -> None:
    """What which lesson can tell, as a table and a picture."""
    from groundtone.lesson.blocks_picture import draw_layouts, layouts

    table = Table(box=box.SIMPLE_HEAD, show_edge=False)
    for name in ("blocks of each kind", "swings of a block", "change told in one case of two*", "what is said"):
        table.add_column(name, justify="right" if name != "what is said" else "left")
    for blocks, each, tells in layouts():
        said = "better or worse" if blocks > 1 else "two blocks differ"
        table.add_row(str(blocks), str(each), f"{tells:.1f}", said)
    table.caption = "* in the golfer's own scatter from swing to swing; nine measures and the strikes are looked at"
    console.print(turned(table))
    write_picture(path, draw_layouts())
    say(console, f"Written: {path}.")


def write_picture(path: Path, picture: bytes) -> None:
    """A picture into a file."""
    with Telling(GroundtoneError, f"{path} cannot be written", "check folder and disk"):
        write_whole(path, picture)


def _swing_count(block: BlockRows) -> str:
    told = count([row.strike for row in block.swings])
    swings = "1 swing" if len(block.swings) == 1 else f"{len(block.swings)} swings"
    return f"{swings}, {told.placed} strikes told"


def sides_to_compare(
    before: str, after: str | None, profile: Path | None
) -> tuple[tuple[Review, BlockRows], tuple[Review, BlockRows]]:
    """The two blocks that were meant, each with the review that it comes from.

    Raises
    ------
    GroundtoneError
        A block is not there, or it is not clear which one.
    """
    (first, first_block), (second, second_block) = split_block(before), split_block(after or before)
    if after is None:
        if first_block:
            raise GroundtoneError("one block alone has nothing to be compared with: name a second one")
        first_block = "baseline"
    seen = _seen(first, profile)
    if after is None:
        # Blocks in turn have no test: what they ask is what the tone does.
        second_block = "test" if any(block.role == "test" for block in seen.blocks()) else "drill"
    other = seen if second == first else _seen(second, profile)
    return (seen, seen.block(first_block, first)), (other, other.block(second_block, second))


def _seen(what: str, profile: Path | None) -> Review:
    return review(open_recording(recording_path(what)), profile)


def _plain_comparison(first: BlockRows, second: BlockRows, result: Comparison) -> dict[str, Any]:
    return {
        "before": {"name": first.name, "swings": len(first.swings), "club": first.club, "lie": first.lie},
        "after": {"name": second.name, "swings": len(second.swings), "club": second.club, "lie": second.lie},
        "conditions": list(result.conditions),
        "changes": [
            {
                "measure": c.looked.name,
                "before": c.before,
                "after": c.after,
                "change": c.effect.size,
                "low": c.effect.low,
                "high": c.effect.high,
                "p": c.effect.p,
                "verdict": c.verdict,
                "sentence": c.sentence,
            }
            for c in result.changes
        ],
        "inside": dict(zip(("change", "low", "high"), result.inside, strict=True)),
        "sentences": list(result.sentences),
    }
