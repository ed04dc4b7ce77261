"""The command `groundtone practise`: its options, and nothing else."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groundtone.app.click_parts import Flare, Number, simulated_layout
from groundtone.app.console import say
from groundtone.app.json_lines import guided
from groundtone.errors import GroundtoneError
from groundtone.record.session import BLOCK_KINDS

if TYPE_CHECKING:
    from rich.console import Console

_FILE = click.Path(dir_okay=False, path_type=Path)
_FOLDER = click.Path(file_okay=False, path_type=Path)


@click.command()
@click.option("--port", help="Where the mat is (a serial port or a link's address); without it the one that answers.")
@click.option("--profile", type=_FILE, help="A calibration; else the mat's own.")
@click.option("--golfer", default="", help="Code name; bands, shoes and hand are theirs, and the session goes to them.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="Without it as the library has it, else right.")
@click.option("--shoe", type=Number(150, 360, "mm"), help="Outer length of the shoes, mm, where it is known.")
@click.option("--stance", type=Number(100, 900, "mm"), help="Between panels, mm; else the golfer's own, else 400.")
@click.option(
    "--flare", type=Flare(), help="Toes outward, left and right, degrees: 10,25; else the golfer's own, else 0."
)
@click.option("--panel", type=click.Choice(["left", "right"]), help="This panel alone is there: toes cue, no swings.")
@click.option("--rate", type=click.IntRange(50, 200), default=100, show_default=True, help="Frames a second.")
@click.option("--block", type=click.Choice(BLOCK_KINDS), default="free", show_default=True)
@click.option("--drill", default="", help="Practise this drill (docs/page.md): its cue and its limit are on.")
@click.option(
    "--line",
    default="heel-toe",
    show_default=True,
    help="What --block purpose or guess is about: heel-toe, side or both; purpose also height (low, high on the face).",
)
@click.option(
    "--at",
    "moment",
    default="setup",
    show_default=True,
    help="On purpose at setup (held) or at impact (of swings, slow ones too).",
)
@click.option("--order", default="random", show_default=True, help="On purpose in blocked or random order.")
@click.option(
    "--times", type=click.IntRange(1, 30), default=5, show_default=True, help="How often each place is asked for."
)
@click.option("--plan", "by_plan", is_flag=True, help="Follow the golfer's plan ('groundtone plan'), by sound alone.")
@click.option(
    "--turns",
    type=click.IntRange(3, 12),
    default=None,
    help="So many short blocks without the tone and with it, in turn: then it can be told what the tone does.",
)
@click.option("--good/--no-good", default=False, help="After each echo hear your own typical good swing.")
@click.option("--club", default="", help="The club, in your words.")
@click.option("--lie", type=click.Choice(["mat", "turf", "tee"]), default=None, help="Where the ball lies.")
@click.option("--usual", type=Number(1, 400, "m"), help="Usual distance with this club, m.")
@click.option("--seconds", type=Number(1, 86400, "s"), help="End after so long; else when you end it.")
@click.option("--search", type=Number(0, 86400, "s"), help="Look so long for a mat that was lost; else for ever.")
@click.option("--echo/--no-echo", default=None, help="Play each swing again, slowed, or not; else as 'sound' has it.")
@click.option("--record/--no-record", default=True, help="Record the session (the default), or not.")
@click.option("--wav", type=_FILE, help="Write what sounds into this file.")
@click.option("--out", type=_FOLDER, help="Write what sounds (tones.wav) and the last swings (lanes.png) here.")
@click.option("--wait/--no-wait", default=True, help="Wait until a mat is switched on (the default), or give up.")
@click.option("--twin", is_flag=False, flag_value="1", help="Try it on the simulated mat of this seed (or scenario).")
@simulated_layout
@click.option("--fast", is_flag=True, help="The simulated mat as fast as it can; nothing is heard.")
@guided
def practise(
    golfer: str, hand: str | None, shoe: float | None, panel: str | None, block: str, drill: str, twin: str | None,
    layout_id: str, fast: bool, console: Console, device_time: bool, **more: Any,
) -> None:  # fmt: skip
    """Practise: step on, rock once, hit balls, and hear each of them.

    It waits for the mat, follows you, records, and goes on by itself when the mat was lost. After the tick of a swing
    tell the strike with a tap of the foot (lead toe: towards the toe, lead heel: the heel, lead foot twice: a good one,
    trail foot: fat, trail toe: thin; a tap of the other foot takes it back), a key, or a presenter's remote. Step off
    for a pause; hold the mat's button, or press q, to end.
    """
    from groundtone.app.lesson.feel import plan_of
    from groundtone.app.live.practice_run import RunWish, practise_with, remembered_echo
    from groundtone.app.live.practice_setup import PracticeWish
    from groundtone.app.live.recording import known_golfer
    from groundtone.app.twin import twin_choice
    from groundtone.cue.personal import bands_for, read_personal
    from groundtone.engine.feel_block import FeelWish
    from groundtone.feel import plan as plans
    from groundtone.feel.plan import next_of
    from groundtone.mat.layout import PANELS
    from groundtone.record.session import SILENT_BLOCKS, Block

    if twin is not None and more["port"] is not None:
        raise GroundtoneError("--port names a real mat and --twin a simulated one: give one of them")
    if more["wav"] is not None and more["out"] is not None:
        raise GroundtoneError("--wav names the file of what sounds and --out its folder: give one of them")
    if more["by_plan"] and (drill or block != "free" or more["club"]):
        raise GroundtoneError("--plan says which ball comes next: leave --block, --drill and --club out")
    if more["turns"] and (more["by_plan"] or block != "free"):
        raise GroundtoneError("--turns lays out the blocks: leave --plan and --block out")
    kind = "baseline" if more["turns"] else "drill" if drill else block
    known = known_golfer(golfer, hand, shoe, lambda sentence: say(console, sentence))
    own = read_personal(known.name)
    plan = plan_of(known.name) if more["by_plan"] else None
    if plan is not None and not (now := next_of(plan, plans.today())).balls:
        raise GroundtoneError(now.sentence)
    wish = PracticeWish(
        known,
        Block(1, kind, more["club"], more["lie"] or "", more["usual"], kind not in SILENT_BLOCKS),
        bands_for(known.name, club=more["club"]),
        stance_mm=more["stance"] or own.stance_mm or PracticeWish.stance_mm,
        flare_deg=more["flare"] or own.flare_deg or PracticeWish.flare_deg,
        rate_hz=more["rate"],
        profile=more["profile"],
        drill=plan.drill if plan is not None else drill,
        plan=plan,
        turns=more["turns"] or 0,
        good=more["good"],
        record=more["record"],
        echo=remembered_echo() if more["echo"] is None else more["echo"],
        panel=PANELS.index(panel) if panel is not None else None,
        feel=FeelWish(more["line"], more["moment"], more["order"], more["times"], secrets.randbelow(2**31)),
    )
    run = RunWish(
        more["port"], twin_choice(twin, layout_id, fast), more["wav"], more["out"], more["wait"], more["seconds"],
        more["search"], device_time,
    )  # fmt: skip
    practise_with(console, wish, run)
