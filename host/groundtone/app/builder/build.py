"""`groundtone build`: what a builder needs, computed and drawn from one description of the mat."""

from __future__ import annotations

import dataclasses
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groundtone.app.click_parts import LazyGroup, Number
from groundtone.app.language import tr
from groundtone.errors import BuildError
from groundtone.files import write_file

if TYPE_CHECKING:
    from groundtone.build.mat_file import Mat

OUTSIDE = 1  # what was computed must not be built so

# Commands of the group that live in files of their own, with the first sentence of their help.
COMMANDS: dict[str, tuple[str, str]] = {
    "commission": (
        "groundtone.app.builder.build_commission:commission",
        "Find what is wired wrong, name it, and say when the mat can be trusted. Ctrl-C stops; the same again goes on.",
    ),
    "install": (
        "groundtone.app.builder.build_install:install",
        "Put the mat's firmware onto its board, checked file by file, and set its layout; the other settings stay.",
    ),
    "settings": (
        "groundtone.app.builder.build_install:settings",
        "What the mat remembers: its name, layout, readings, radio. KEY=VALUE changes it, as in radio=off.",
    ),
}

_mat_option = click.option(
    "--mat", "name", default="starter", show_default=True, help="starter, reference, or a mat's TOML file."
)
_out_option = click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out/build"), show_default=True
)
_json_option = click.option("--json", "as_json", is_flag=True, help="Figures as JSON.")


@click.group(cls=LazyGroup, elsewhere=COMMANDS)
def build() -> None:
    """From an empty table to a mat: resistors, parts, drawings, wiring, firmware, commissioning."""


@build.command()
@_mat_option
@click.option(
    "--at", "measured", type=(Number(0.001, 1000, "kg"), Number(0.001, 1e9, "Ω")), multiple=True, metavar="KG OHM",
    help="Film under a weight, by multimeter; give it twice.",
)  # fmt: skip
@click.option("--pulldown", type=Number(10, 1e6, "Ω"), help="Compute with this Rs instead of the recommended one, Ω.")
@click.option("--series", type=Number(1, 10_000, "Ω"), help="Row resistors instead of the description's, Ω.")
@_json_option
def divider(
    name: str, measured: tuple[tuple[float, float], ...], pulldown: float | None, series: float | None, as_json: bool
) -> None:
    """Which pull-down fits your film, what the mat then feels, and whether the pins bear it."""
    from groundtone.app.builder.build_words import divider_words
    from groundtone.build.divider import divide
    from groundtone.build.layout_check import with_film
    from groundtone.build.mat_file import read_mat

    mat = read_mat(name)
    if measured:
        if len(measured) != 2:
            raise click.UsageError("give --at twice: the film under a light and under a heavy weight.")
        (light, at_light), (heavy, at_heavy) = measured
        mat = with_film(mat, (light, heavy), (at_light, at_heavy))
    if series is not None:
        mat = dataclasses.replace(mat, electrical=dataclasses.replace(mat.electrical, series_ohm=series))
    found = divide(mat, pulldown_ohm=pulldown)
    click.echo(_json(found) if as_json else divider_words(mat, found, own_film=bool(measured)))
    if found.refusals:
        sys.exit(OUTSIDE)


@build.command()
@_mat_option
@click.option("--material", help="plywood, fibreboard, hardboard, polycarbonate or aluminium.")
@click.option("--thickness", type=Number(1, 40, "mm"), help="Of the plate, mm.")
@click.option("--span", type=Number(0, 1000, "mm"), help="What nothing carries: a hollow, a gap, feet; mm.")
@click.option("--load", type=Number(1, 10_000, "N"), help="One foot's force instead of the description's, N.")
@_json_option
def plate(
    name: str, material: str | None, thickness: float | None, span: float | None, load: float | None, as_json: bool
) -> None:
    """Whether the base plate bears a person over a hollow in the ground, and what would."""
    from groundtone.app.builder.build_words import plate_words
    from groundtone.build.mat_file import read_mat
    from groundtone.build.mechanics import Base, hardest_load_n, plate_check

    mat = read_mat(name)
    base = Base(material or mat.base.material, mat.base.span_mm if span is None else span)
    stack = mat.stack if thickness is None else dataclasses.replace(mat.stack, base_mm=thickness)
    mat, person = dataclasses.replace(mat, base=base, stack=stack), mat.person
    load_n = hardest_load_n(person.mass_kg, person.peak, person.peak_lead) if load is None else load
    found = plate_check(base, stack.base_mm, mat.base_width_mm, load_n)
    click.echo(_json(found) if as_json else plate_words(mat, found, load_n))
    if found.refusals:
        sys.exit(OUTSIDE)


@build.command()
@_mat_option
@click.option("--rate", type=Number(1, 400, "Hz"), help="Frames a second.")
@click.option("--oversample", type=click.Choice(["1", "2", "4", "8"]), help="Readings a value.")
@click.option("--settle", type=Number(0, 1000, "µs"), help="Settle time, µs.")
@_json_option
def scan(name: str, rate: float | None, oversample: str | None, settle: float | None, as_json: bool) -> None:
    """Where the time of a scan goes; what USB, Bluetooth and a power bank make of it."""
    from groundtone.app.builder.build_words import scan_words
    from groundtone.build.mat_file import read_mat
    from groundtone.build.scan_budget import budget

    mat = read_mat(name)
    given = {"rate_hz": rate, "oversample": int(oversample) if oversample else None, "settle_us": settle}
    changed = {key: value for key, value in given.items() if value is not None}
    mat = dataclasses.replace(mat, scan=dataclasses.replace(mat.scan, **changed))  # type: ignore[arg-type]
    found = budget(mat)
    click.echo(_json(found) if as_json else scan_words(mat, found))
    if found.wrong:
        sys.exit(OUTSIDE)


@build.command()
@_mat_option
@click.option("--load", type=click.Choice(["empty", "standing", "hardest"]), default="standing", show_default=True)
@click.option("--joined", type=click.IntRange(0, 14), help="Join this row to the next one.")
@click.option("--wet", is_flag=True, help="Water between all rows.")
@click.option(
    "--out", type=click.Path(dir_okay=False, path_type=Path), help="Write it here; without it, to the screen."
)
def network(name: str, load: str, joined: int | None, wet: bool, out: Path | None) -> None:
    """The same grid as a SPICE netlist, for ngspice -b."""
    import numpy as np

    from groundtone.build.circuit import netlist
    from groundtone.build.film_law import film_law
    from groundtone.build.mat_file import read_mat
    from groundtone.build.pin_load import drivers_for, hardest_n, joins_when_wet, standing_n

    mat = read_mat(name)
    law = film_law(mat.film.weight_kg, mat.film.resistance_ohm)
    standing = standing_n(mat)
    force = {"empty": np.zeros_like(standing), "standing": standing, "hardest": hardest_n(mat)}[load]
    joins = joins_when_wet(mat) if wet else []
    if joined is not None:
        if joined + 1 >= mat.layout.rows:
            raise BuildError(f"row {joined} has no next one: {mat.layout.id} has rows 0 to {mat.layout.rows - 1}")
        joins.append((joined, joined + 1, mat.water.joined_ohm))
    drivers = drivers_for(mat, mat.electrical.pulldown_ohm)
    text = netlist(
        law.conductance_s(force), drivers, mat.electrical.supply_v, joins, title=f"{mat.layout.id}, {load}"
    )  # fmt: skip
    if out is None:
        click.echo(text)
    else:
        write_file(out, text)
        click.echo(tr(f"{out}: run it with ngspice -b {out}"))


@build.command()
@_mat_option
@_json_option
def parts(name: str, as_json: bool) -> None:
    """What to buy, with quantities; prices are approximate."""
    from groundtone.app.builder.build_words import markdown
    from groundtone.build.mat_file import read_mat
    from groundtone.build.parts import parts as bill_of
    from groundtone.build.parts import table

    mat = read_mat(name)
    click.echo(_json(bill_of(mat)) if as_json else markdown(table(mat)))
    _unless_refused(mat)


@build.command()
@_mat_option
def steps(name: str) -> None:
    """The order of work with minutes, drawings, and what must be true after each step."""
    from groundtone.app.builder.build_words import markdown
    from groundtone.build.mat_file import read_mat
    from groundtone.build.steps import table

    mat = read_mat(name)
    click.echo(markdown(table(mat)))
    _unless_refused(mat)


@build.command()
@click.option("--mat", "names", multiple=True, help="starter, reference, or a mat's TOML file; both builds without it.")
@click.option("--paper", type=click.Choice(["a4", "letter", "both"]), default="both", show_default=True)
@_out_option
def templates(names: tuple[str, ...], paper: str, out: Path) -> None:
    """Cut and drill drawings of all layers at 1:1: SVG, DXF and PDF for your printer."""
    from groundtone.build.layout_check import check
    from groundtone.build.mat_file import read_mat
    from groundtone.build.sheets import write_templates

    mats = [read_mat(name) for name in names or ("starter", "reference")]
    for mat in mats:
        check(mat)
    papers = ("a4", "letter") if paper == "both" else (paper,)
    for mat in mats:
        written = write_templates(mat, out, papers)
        click.echo(tr(f"{written[0].parent}: {len(written)} files"))
    click.echo(tr("Print at 100 %, measure the 100 mm line, then cut."))
    _unless_refused(*mats)


@build.command()
@_mat_option
@_out_option
def pictures(name: str, out: Path) -> None:
    """The guide's pictures: how the mat lies, a cut through its layers, the schematic."""
    from groundtone.build.mat_file import read_mat
    from groundtone.build.pictures import cut_through, ground_plan
    from groundtone.build.schematic import schematic
    from groundtone.build.sheets import svg

    mat = read_mat(name)
    ready = {
        f"{mat.layout.id}-{drawing.name}.svg": svg(drawing, 0.7) for drawing in (ground_plan(mat), cut_through(mat))
    }
    ready[f"{mat.layout.id}-schematic.svg"] = schematic(mat, "svg").decode()
    for file, text in ready.items():
        write_file(out / file, text)
    click.echo(tr(f"Written into {out}: {', '.join(ready)}"))


@build.command()
@_mat_option
@_out_option
def wiring(name: str, out: Path) -> None:
    """The pin table, and the schematic as SVG and PNG."""
    from groundtone.app.builder.build_words import markdown
    from groundtone.build.mat_file import read_mat
    from groundtone.build.schematic import schematic
    from groundtone.build.wiring import table

    mat = read_mat(name)
    text = markdown(table(mat))
    ready: list[tuple[Path, bytes | str]] = [(out / mat.layout.id / "wiring.md", text)]
    ready += [(out / mat.layout.id / f"schematic.{form}", schematic(mat, form)) for form in ("svg", "png")]
    for path, content in ready:
        write_file(path, content)
    click.echo(text)
    click.echo(tr("Also written: " + ", ".join(str(path) for path, _ in ready)))
    _unless_refused(mat)


@build.command()
@_mat_option
@click.option(
    "--name", "new_name", help="First part of the new layout's id; without it 'mine', where anything differs."
)
@click.option("--rows", type=click.IntRange(2, 64), help="Along the foot.")
@click.option("--columns", type=click.IntRange(1, 16), help="Across, of one panel.")
@click.option("--row-pitch", type=Number(5, 100, "mm"), help="mm.")
@click.option("--column-pitch", type=Number(5, 100, "mm"), help="mm.")
@click.option("--board", help="A board of firmware/mat/board.py.")
@click.option("--pulldown", type=Number(10, 1e6, "Ω"), help="Rs that was soldered, Ω.")
@click.option("--series", type=Number(1, 10_000, "Ω"), help="Row resistors that were soldered, Ω.")
@click.option("--bits", type=click.Choice(["12", "14"]), help="Of a value.")
@_out_option
def layout(
    name: str, new_name: str | None, rows: int | None, columns: int | None, row_pitch: float | None,
    column_pitch: float | None, board: str | None, pulldown: float | None, series: float | None, bits: str | None,
    out: Path,
) -> None:  # fmt: skip
    """A mat of your own: checks its grid, writes its description, puts its layout where the program finds it."""
    from groundtone.app.builder.build_words import layout_words
    from groundtone.build.layout_check import another_grid, check, mat_toml
    from groundtone.build.mat_file import read_mat
    from groundtone.mat.layout import keep_layout, user_layouts

    base = read_mat(name)
    given = (new_name, rows, columns, row_pitch, column_pitch, board, pulldown, series, bits)
    mat = base if not any(given) else another_grid(
        base, name=new_name or "mine", rows=rows, columns_per_panel=columns, row_pitch_mm=row_pitch,
        column_pitch_mm=column_pitch, board=board, pulldown_ohm=pulldown, series_ohm=series,
        bits=int(bits) if bits else None,
    )  # fmt: skip
    found = check(mat)
    description = out / f"{mat.layout.id}.toml" if mat is not base else Path(name)
    if mat is not base:
        write_file(description, mat_toml(mat))
    keep_layout(mat.layout)
    click.echo(layout_words(mat, found, description, user_layouts() / f"{mat.layout.id}.toml"))


def _unless_refused(*mats: Mat) -> None:
    """Says what must not be soldered as described, and ends as what must not be built so."""
    from groundtone.app.builder.build_words import refused
    from groundtone.build.divider import electric_refusals

    refusals = [sentence for mat in mats for sentence in electric_refusals(mat)]
    if refusals:
        click.echo(refused(refusals), err=True)
        sys.exit(OUTSIDE)


def _json(found: Any) -> str:
    """Dataclasses as JSON; what is not finite becomes null, for JSON has no word for it."""

    def plain(value: Any) -> Any:
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        if isinstance(value, list | tuple):
            return [plain(entry) for entry in value]
        return None if isinstance(value, float) and not math.isfinite(value) else value

    return json.dumps(plain(found), indent=1, ensure_ascii=False)
