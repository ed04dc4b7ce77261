"""The command `groundtone check`: its options, and nothing else."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console

from groundtone.app.arguments import Mass


@click.command()
@click.option("--mass", type=Mass(20, 160), help="Of the person who stands there, with clothes and shoes, kg.")
@click.option("--weight", type=Mass(1, 50), help="A known weight, kg, that you lay on each panel's mark first.")
@click.option("--hand", type=click.Choice(["right", "left"]), help="The golfer's hand; without it the check asks.")
@click.option("--history", "show_history", is_flag=True, help="Show the earlier checks of this mat: how it ages.")
@click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken.")
@click.option("--twin", is_flag=False, flag_value="1", help="Try it on the simulated mat of this seed (or scenario).")
@click.option("--layout", default="reference-16x4", show_default=True, help="Layout of the simulated mat.")
@click.option("--fast", is_flag=True, help="The simulated mat as fast as it can; nothing is heard.")
@click.option(
    "--profile", type=click.Path(dir_okay=False, path_type=Path), help="The mat's profile; without it, its own place."
)
def check(
    mass: float | None,
    weight: float | None,
    hand: str | None,
    show_history: bool,
    port: str | None,
    twin: str | None,
    layout: str,
    fast: bool,
    profile: Path | None,
) -> None:
    """Trust this mat today? A minute with the golfer on it: ready (0), ready with correction (1) or not fit (2)."""
    from groundtone.app.calibration.check_run import CheckWish, history
    from groundtone.app.calibration.check_run import check as run_check
    from groundtone.app.opening import twin_choice

    wish = CheckWish(mass, weight, hand, port, twin_choice(twin, layout, fast), profile)
    if show_history:
        history(Console(), wish)
        return
    sys.exit(run_check(Console(), wish))
