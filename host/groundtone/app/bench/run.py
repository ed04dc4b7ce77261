"""Runs the benchmarks that were asked for and prints their figures."""

from __future__ import annotations

import json
from importlib import import_module
from typing import Any

import click

from groundtone.app.bench.names import BENCHES, LONG
from groundtone.app.bench.timing import machine


def run_bench(what: str, *, as_json: bool, seeds: int | None) -> bool:
    """Measures and prints; True where every figure is what is asked for.

    Parameters
    ----------
    what : str
        A name of `BENCHES`, or "all" for those that take no more than a few minutes.
    as_json : bool
    seeds : int, optional
        Mats or sessions to draw, where a figure needs many.
    """
    names = [name for name in BENCHES if name not in LONG] if what == "all" else [what]
    figures: dict[str, Any] = {"machine": machine()}
    for name in names:
        module, function = BENCHES[name].split(":")
        figures[name] = getattr(import_module(module), function)(seeds)
    if as_json:
        click.echo(json.dumps(figures, indent=1))
    else:
        for name, values in figures.items():
            click.echo(name)
            for key, value in values.items():
                click.echo(f"  {key}: {value}")
    return all(values.get("ok", True) for values in figures.values())
