"""The commands `groundtone bands …`: a golfer's own limits of the cues. Options and printing only."""

from __future__ import annotations

import math
from dataclasses import replace

import click
from rich import box
from rich.console import Console
from rich.table import Table

from groundtone.app.click_parts import Flare, LazyGroup, Number
from groundtone.app.console import say, turned
from groundtone.app.lesson.targets import one_line
from groundtone.cue.personal import STYLES, Personal
from groundtone.cue.rulebook import SOUNDS, Rulebook
from groundtone.cue.rulefile import cue_names
from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.swing.clubs import club_class

_FROM = {"coach": "set by the coach", "tightened": "tightened"}


@click.group(cls=LazyGroup, elsewhere={})
def bands() -> None:
    """Where silence ends for a golfer: learnt from their good strikes, or set by the coach."""


@bands.command()
@click.argument("golfer")
@click.option(
    "--club", default="", help="With this club; where its class has no limits of its own, those of all clubs."
)
def show(golfer: str, club: str) -> None:
    """The limits in force for a golfer, and where each comes from."""
    from groundtone.cue.personal import house_rules, read_personal

    console = Console()
    personal = read_personal(golfer)
    book, limits = personal.rules(house_rules(), club), personal.limits(club)
    if personal.label:
        say(console, f"Bands: {one_line(personal.label)}.")
    table = Table(
        title="Limits in %; heel-toe place: 0 heel edge to 100 toe edge; lead share: part on the lead foot",
        box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0), title_justify="left",
    )  # fmt: skip
    for name in ("cue", "band", "limit"):
        table.add_column(name, no_wrap=True)
    table.add_column("from")
    for rule in book.rules:
        for band in rule.bands:
            own = limits.get(band.name)
            origin = "the program" if own is None else _FROM.get(own.source, f"{own.swings} well-struck swings")
            locked = ", locked" if band.name in personal.locked else ""
            cue = rule.name if rule.on else f"{rule.name} (off)"
            side = "at most" if band.upper else "at least"
            table.add_row(cue, band.name, f"{side} {100 * band.limit:.0f}", origin + locked)
    console.print(turned(table))
    for sentence in _of_the_pupil(personal, club):
        say(console, sentence)
    say(console, f"Tones sound {book.sound}. Tightening is {_on(book.tighten.on)}, fading is {_on(book.fade.on)}.")


def _of_the_pupil(personal: Personal, club: str) -> list[str]:
    """What is this golfer's own beside the limits, in sentences."""
    out = []
    if personal.clubs:
        kind = club_class(club)
        kinds = ", ".join(f"{name}s" for name in personal.clubs)
        told = f"Limits of their own with {kinds}; with every other class those of all clubs."
        out.append(told if not kind else f"{told} Shown: {kind if kind in personal.clubs else 'all clubs'}.")
    if personal.style:
        what = "the trail side's tone ends at impact" if personal.style == "reverse" else "no limit changes by it"
        who = "the coach says so" if personal.style_from == "coach" else "learnt from their swings"
        out.append(f"Style: {personal.style} ({who}); {what}.")
    if personal.faults:
        out.append(f"Called a fault in any case: {', '.join(sorted(personal.faults))}.")
    if personal.stance_mm is not None:
        out.append(f"Stance: {personal.stance_mm:g} mm between the panels.")
    if personal.flare_deg is not None:
        left, right = personal.flare_deg
        out.append(f"Toes flared by {left:g} degrees on the left and {right:g} on the right.")
    return out


@bands.command()
@click.argument("golfer")
def learn(golfer: str) -> None:
    """Fit the limits to the golfer's own well-struck swings; at least five, with their strikes told."""
    from groundtone.cue.learning import NEEDED
    from groundtone.cue.learning import learn as learnt_from
    from groundtone.cue.personal import house_rules, read_personal, write_personal
    from groundtone.cue.tighten import words_for
    from groundtone.record.library import Library
    from groundtone.review.library_reader import keep_style, well_struck

    console = Console()
    with Library(data_folder()) as library:
        swings = well_struck(library, golfer)
        keep_style(library, golfer)
    personal, found = learnt_from(read_personal(golfer), [values for _, values in swings], house_rules())
    said = [(each, "") for each in found]
    kinds = {kind: [values for each, values in swings if each == kind] for kind, _ in swings}
    few = []
    for kind, own in kinds.items() if len(kinds) > 1 else ():
        if len(own) < NEEDED or not kind:
            few.append(f"{kind or 'clubs that were not told'}: {len(own)}")
            continue
        personal, found = learnt_from(personal, own, house_rules(), kind=kind)
        said += [(each, f" with {kind}s") for each in found]
    write_personal(personal)
    say(console, f"{len(swings)} well-struck swings of {one_line(golfer)}.")
    if few:
        say(console, f"Too few for limits of their own ({'; '.join(few)}): there those of all clubs hold.")
    rules = personal.rules(house_rules())
    for each, club in said:
        what = words_for(rules.band(each.band)) + club
        if each.own is None:
            say(console, f"{each.band} ({what}) stays at {100 * each.before:.0f} %: {each.why}.")
            continue
        say(console, f"{each.band} ({what}): {100 * each.own.limit:.0f} % now, {100 * each.before:.0f} % before; their "
            f"swings lie at {100 * each.own.middle:.0f} % ± {100 * each.own.spread:.0f}.")  # fmt: skip


@bands.command(name="set")
@click.argument("golfer")
@click.argument("limits", nargs=-1, metavar="[BAND=LIMIT]...")
@click.option("--on", "on", multiple=True, type=click.Choice(cue_names()), help="Switch a cue on.")
@click.option("--off", "off", multiple=True, type=click.Choice(cue_names()), help="Switch a cue off.")
@click.option("--sound", type=click.Choice(SOUNDS), help="Tones at once, or not before impact.")
@click.option("--tighten/--no-tighten", default=None, help="Bands follow success.")
@click.option("--fade/--no-fade", default=None, help="Fewer tones as skill grows.")
@click.option("--club", default="", help="The limits hold with the class of this club alone.")
@click.option("--style", type=click.Choice([*STYLES, "learn"]), help="Which style is theirs; learn: as swings show.")
@click.option("--fault", "faults", multiple=True, help="A finding that you call a fault for this golfer, by name.")
@click.option("--no-fault", "spared", multiple=True, help="One that you no longer call so.")
@click.option("--stance", type=Number(100, 900, "mm"), help="Between the panels' centres, mm.")
@click.option("--flare", type=Flare(), help="Toes outward, left and right, degrees: 10,25.")
def set_(
    golfer: str,
    limits: tuple[str, ...],
    on: tuple[str, ...],
    off: tuple[str, ...],
    sound: str | None,
    tighten: bool | None,
    fade: bool | None,
    club: str,
    style: str | None,
    faults: tuple[str, ...],
    spared: tuple[str, ...],
    stance: float | None,
    flare: tuple[float, float] | None,
) -> None:
    """Set limits (as in toes_after=0.62 or toes_after=62%), cues and how they sound, and what is this golfer's own."""
    from groundtone.app.lesson.review import check_faults
    from groundtone.cue.personal import Own, house_rules, read_personal, write_personal

    personal = read_personal(_known(golfer))
    check_faults((*faults, *spared))
    given = (sound, tighten, fade, style, stance, flare)
    if not (limits or on or off or faults or spared or any(value is not None for value in given)):
        raise GroundtoneError("there is nothing to set: give a BAND=LIMIT or an option, see --help")
    if set(on) & set(off):
        raise GroundtoneError(f"the cue {min(set(on) & set(off))} cannot be on and off: name it once")
    fresh = dict(map(_limit, limits))
    kind = club_class(club)
    _must_be(personal.rules(house_rules(), club), fresh)
    personal = replace(
        personal.with_own({name: Own(value, "coach") for name, value in fresh.items()}, kind),
        on={**personal.on, **dict.fromkeys(on, True), **dict.fromkeys(off, False)},
        sound=sound or personal.sound,
        tighten=personal.tighten if tighten is None else tighten,
        fade=personal.fade if fade is None else fade,
        faults=(personal.faults | set(faults)) - set(spared),
        stance_mm=personal.stance_mm if stance is None else stance,
        flare_deg=personal.flare_deg if flare is None else flare,
    )
    if style is not None:
        told = "" if style == "learn" else style
        personal = replace(personal, style=told, style_from="coach" if told else "")
    write_personal(personal)
    _say(f"Set for {one_line(golfer)}.")


@bands.command()
@click.argument("golfer")
@click.argument("names", nargs=-1, metavar="[BAND]...")
@click.option("--off", is_flag=True, help="Let them move again.")
def lock(golfer: str, names: tuple[str, ...], off: bool) -> None:
    """Keep limits from learning and tightening; all of them where none is named."""
    from groundtone.cue.personal import house_rules, read_personal, write_personal

    personal = read_personal(_known(golfer))
    rules = personal.rules(house_rules())
    chosen = frozenset(rules.band(name).name for name in names) or frozenset(band.name for band in rules.bands())
    locked = personal.locked - chosen if off else personal.locked | chosen
    write_personal(replace(personal, locked=locked))
    _say(f"{'Free to move' if off else 'Locked'}: {', '.join(sorted(chosen))}.")


@bands.command()
@click.argument("golfer")
@click.argument("label")
def name(golfer: str, label: str) -> None:
    """Give a golfer's bands a name."""
    from groundtone.cue.personal import read_personal, write_personal

    if len(label) > 100:
        raise GroundtoneError("the name has more than 100 characters: choose a shorter one")
    write_personal(replace(read_personal(_known(golfer)), label=label))
    _say(f"The bands of {one_line(golfer)} are called {one_line(label)!r}.")


@bands.command()
@click.argument("golfer")
@click.argument("names", nargs=-1, metavar="[BAND]...")
def forget(golfer: str, names: tuple[str, ...]) -> None:
    """Go back to the program's limits: of the bands named, else all, and every setting, fault and stance with them."""
    from groundtone.cue.personal import forget_personal, house_rules, read_personal, write_personal

    if not names:
        there = forget_personal(golfer)
        _say(f"{one_line(golfer)} has the program's bands again." if there else "There was nothing to forget.")
        return
    personal = read_personal(golfer)
    gone = {personal.rules(house_rules()).band(each).name for each in names}
    own, *others = (
        {each: value for each, value in limits.items() if each not in gone}
        for limits in (personal.own, *personal.clubs.values())
    )
    clubs = dict(zip(personal.clubs, others, strict=True))
    write_personal(replace(personal, own=own, clubs=clubs, locked=personal.locked - gone))
    _say(f"As the program has them: {', '.join(sorted(gone))}.")


def _known(golfer: str) -> str:
    """The golfer, who has to be in the library."""
    from groundtone.record.library import Library

    with Library(data_folder()) as library:
        return library.golfer(golfer).name


def _limit(text: str) -> tuple[str, float]:
    band, _, value = text.partition("=")
    try:
        number = float(value[:-1]) / 100 if value.endswith("%") else float(value)
    except ValueError:
        number = math.nan
    if not band or not math.isfinite(number):
        raise GroundtoneError(f"{text!r} is no limit: write it as toes_after=0.62 or toes_after=62%")
    return band, number


def _must_be(book: Rulebook, limits: dict[str, float]) -> None:
    """Refuses what cannot be before anything is written; a limit above 1 was meant in per cent."""
    for band, value in limits.items():
        book.band(band)
        if not 0 < value < 1:
            raise GroundtoneError(f"{band} = {value:g} lies outside 0 to 1: write {value:g} per cent as {value:g}%")
    book.with_limits(limits)


def _on(on: bool) -> str:
    return "on" if on else "off"


def _say(sentence: str) -> None:

    say(Console(), sentence)
