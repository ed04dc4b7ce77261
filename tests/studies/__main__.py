"""`make study NAME=…`: measures what was asked for and prints the figures; without a name, the list."""

from __future__ import annotations

import json
import sys
from typing import Any

import click

from groundtone.errors import GroundtoneError
from studies.names import STUDIES


@click.command()
@click.argument("what", type=click.Choice([*STUDIES, "all"]), required=False)
@click.option("--json", "as_json", is_flag=True, help="Figures as JSON.")
@click.option("--seeds", type=click.IntRange(1, 2000), help="Mats or sessions to draw, where a figure needs many.")
def study(what: str | None, as_json: bool, seeds: int | None) -> None:
    """Measure the program's figures on this machine; "all" leaves out the long studies, marked *."""
    if what is None:
        for name, named in STUDIES.items():
            click.echo(f"{name + '*' * named.long:26}{named.about}")
        return
    from groundtone.app.tones.latency import machine

    names = [name for name, named in STUDIES.items() if not named.long] if what == "all" else [what]
    figures: dict[str, Any] = {"machine": machine()}
    for name in names:
        figures[name] = STUDIES[name].function()(seeds)
    if as_json:
        click.echo(json.dumps(figures, indent=1))
    else:
        _print(figures)
    if not all(values.get("ok", True) for values in figures.values()):
        sys.exit(1)


def _print(figures: dict[str, Any]) -> None:
    for name, values in figures.items():
        click.echo(name)
        for key, value in values.items():
            click.echo(f"  {key}: {value}")


if __name__ == "__main__":
    try:
        study(prog_name="make study")
    except GroundtoneError as error:
        click.echo(f"study: {error}", err=True)
        sys.exit(2)
