"""Runs the benchmarks that were asked for and prints their figures."""

from __future__ import annotations

import json
from typing import Any

import click

from groundtone.app.bench.live import bench_live
from groundtone.app.bench.network import bench_network
from groundtone.app.bench.timing import machine
from groundtone.app.bench.wire import bench_wire


def run_bench(what: str, *, as_json: bool, seeds: int) -> bool:
    """Measures and prints; True where every figure is what is asked for.

    Parameters
    ----------
    what : str
        "wire", "network", "live" or "all".
    as_json : bool
    seeds : int
        Mats for the demo sessions, both hands each.
    """
    figures: dict[str, Any] = {"machine": machine()}
    if what in ("wire", "all"):
        figures["wire"] = bench_wire()
    if what in ("network", "all"):
        figures["network"] = bench_network()
    if what in ("live", "all"):
        figures["live"] = bench_live(seeds)
    if as_json:
        click.echo(json.dumps(figures, indent=1))
    else:
        for name, values in figures.items():
            click.echo(name)
            for key, value in values.items():
                click.echo(f"  {key}: {value}")
    return all(values.get("ok", True) for values in figures.values())
