"""A mat and golfers from elsewhere, judged by the commands as anybody would use them.

Each seed is a mat of `elsewhere_mat` and a golfer of `elsewhere_people`, on a pseudo-terminal, faster than time: a
bench run with five weights, a check with the golfer's mass, ten balls a day later. The commands are led by
docs/json-lines.md and asked by `export` and `review --json`; nothing else of the program is used. What is told: share
and centre of live frames in which both feet carry something (95 % of them are nearer than this), whether each struck
ball was seen, tones that nobody earned, and how often the 95 % interval of the share at impact held.
"""

from __future__ import annotations

import contextlib
import csv
import json
import os
import select
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import numpy as np

from studies.as_they_come import interval
from studies.elsewhere_mat import HALF, PITCH_U_MM, ROWS, Mat
from studies.elsewhere_people import Golfer, Hands, Stander

SEEDS, FIRST_SEED, BALLS = 12, 70_000, 10
WEIGHTS_KG = (1.0, 2.0, 5.0, 10.0, 20.0)
SHARE, ALONG_MM = 0.012, 3.0
_PATIENCE_S = 1800.0
_NEAR_S = 0.5
Line = dict[str, Any]
OnLine = Callable[[Line, Callable[[str], None]], None]


def study_elsewhere(seeds: int | None = None) -> dict[str, Any]:
    """So many mats with a golfer each."""
    results = []
    for seed in range(FIRST_SEED, FIRST_SEED + (seeds or SEEDS)):
        with tempfile.TemporaryDirectory() as home:
            results.append(one(seed, Path(home)))
        click.echo(f"elsewhere, mat {seed}: {json.dumps(results[-1])}", err=True)
    return figures(results)


def figures(results: list[dict[str, Any]]) -> dict[str, Any]:
    """What all mats together say."""
    near = [r["share"] <= SHARE and r["along mm"] <= ALONG_MM for r in results]
    balls, seen = (sum(r[name] for r in results) for name in ("balls", "seen"))
    wide = [r["share"] <= 0.02 and r["along mm"] <= 5.0 for r in results]
    return {
        "mats": len(results),
        "share within, median": float(np.median([r["share"] for r in results])),
        "along the foot within, mm, median": float(np.median([r["along mm"] for r in results])),
        f"mats within {SHARE} and {ALONG_MM:g} mm": interval(sum(near), len(near)),
        "mats within 0.02 and 5 mm": interval(sum(wide), len(wide)),
        "balls seen": f"{seen} of {balls}",
        "swings that were none": sum(r["none"] for r in results),
        "tones in waits and rocks": sum(r["tones"] for r in results),
        "intervals of the share at impact that held": f"{sum(r['held'] for r in results)} of {seen}",
        "ok": all(near) and seen == balls,
    }


def one(seed: int, home: Path) -> dict[str, Any]:
    """A mat, calibrated, checked and hit balls on."""
    mat = Mat(seed)
    golfer = Golfer(np.random.default_rng([seed, 2]))
    try:
        profile = home / "mat.json"
        weights = [word for mass in WEIGHTS_KG for word in ("--mass", mass)]
        led(mat, home, ["calibrate", "bench", *weights, "--weighed", "--profile", profile], _hands(mat))
        mat.film.contact = np.ones_like(mat.film.contact)
        mat.film.weather()
        mat.t_s += 600.0
        mass = golfer.mass_kg * (1 + mat.rng.normal(0, 0.003))
        check = ["check", "--profile", profile, "--hand", "right", "--mass", f"{mass:.1f}"]
        led(mat, home, check, _person(mat, golfer))
        mat.t_s += 600.0
        mat.log.clear()
        lines = led(mat, home, ["practise", "--profile", profile, "--hand", "right"], _practice(mat, golfer))
        return {"seed": seed, "style": golfer.style, **_judged(mat, golfer, lines, home)}
    finally:
        mat.close()


def led(mat: Mat, home: Path, arguments: list[Any], on_line: OnLine) -> list[Line]:
    """A guided command on that mat to its end: all its lines. `on_line(line, answer)` may answer."""
    command = [
        sys.executable,
        "-m",
        "groundtone",
        *map(str, arguments),
        "--port",
        mat.port,
        "--json-lines",
        "--device-time",
    ]
    env = dict(os.environ, GROUNDTONE_HOME=str(home))
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=env)
    assert process.stdin is not None
    assert process.stdout is not None
    out, typed, rest = process.stdout.fileno(), process.stdin, b""
    lines: list[Line] = []

    def answer(text: str) -> None:
        with contextlib.suppress(BrokenPipeError):
            typed.write(text.encode() + b"\n")
            typed.flush()

    end = time.monotonic() + _PATIENCE_S
    while True:
        if time.monotonic() > end:
            process.kill()
            raise click.ClickException(f"{arguments[0]} did not end: {lines[-3:]}")
        busy = mat.turn()
        if out not in select.select([out, mat.fd], [], [], 0.0 if busy else 0.02)[0]:
            continue
        data = os.read(out, 65536)
        if not data:
            process.wait()
            return lines
        *whole, rest = (rest + data).split(b"\n")
        for raw in whole:
            lines.append(json.loads(raw))
            on_line(lines[-1], answer)


def _hands(mat: Mat) -> OnLine:
    hands = Hands(mat)

    def on_line(line: Line, _: Callable[[str], None]) -> None:
        ask = line.get("ask")
        if ask == "put":
            hands.put(line["row"], line["column"], line["force_n"])
        elif ask in ("add", "take off"):
            hands.more(line["row"], line["column"], line["force_n"])
        elif ask in ("clear", "wait", "lift", "again", "done") and hands.lies:
            hands.off()

    return on_line


_DEEDS = {
    "keep off": "off", "step off": "off", "done": "off", "step on": "stand", "stand still": "stand",
    "rock slowly": "rock", "left foot up": "left up", "right foot up": "right up",
}  # fmt: skip


def _person(mat: Mat, golfer: Golfer) -> OnLine:
    stander = Stander(mat, golfer)

    def on_line(line: Line, answer: Callable[[str], None]) -> None:
        ask = line.get("ask")
        if line.get("answers"):
            answer("right" if ask == "hand" else "yes")
        elif ask in _DEEDS and not (ask == "step on" and stander.stands):
            stander.do(_DEEDS[ask])

    return on_line


def _practice(mat: Mat, golfer: Golfer) -> OnLine:
    over_s = np.inf

    def on_line(line: Line, answer: Callable[[str], None]) -> None:
        nonlocal over_s
        if line.get("ask") == "step on" and over_s == np.inf:
            over_s = golfer.plan(mat.t_s + 1.0, BALLS)
            mat.force, mat.strikes = golfer.cells, [ball.impact_s for ball in golfer.balls]
        if mat.t_s > over_s:
            answer("q")

    return on_line


def _judged(mat: Mat, golfer: Golfer, lines: list[Line], home: Path) -> dict[str, Any]:
    impacts = [line["impact_s"] for line in lines if line.get("seen") == "swing" and line["impact_s"] is not None]
    true = [ball.impact_s for ball in golfer.balls]
    tones = [line["t_s"] for line in lines if line.get("seen") == "cue" and line["sounds"]]
    swung = [(ball.takeaway_s - 2.5, ball.impact_s + 4.0) for ball in golfer.balls]
    times = np.array([t for t, _ in mat.log])
    cells = np.array([grid for _, grid in mat.log])
    left, right = cells[:, :, :HALF].sum((1, 2)), cells[:, :, HALF:].sum((1, 2))
    rows = (np.arange(ROWS) + 0.5) * PITCH_U_MM
    with np.errstate(divide="ignore", invalid="ignore"):
        share = left / (left + right)
        along = (cells[:, :, :HALF].sum(2) @ rows / left, cells[:, :, HALF:].sum(2) @ rows / right)
    _asked(home, "export", "last", "--to", home / "out", "--csv")
    with (home / "out" / "frames.csv").open(encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    told = {
        name: np.array([float(row[name] or "nan") for row in table])
        for name in ("t_s", "lead_share", "cop_left_u_mm", "cop_right_u_mm")
    }
    at = np.clip(np.searchsorted(times, told["t_s"] - 1e-4), 0, len(times) - 1)
    least = max(30.0, 0.05 * golfer.weight_n)
    both = (left[at] > least) & (right[at] > least) & (told["t_s"] > golfer.rocked_s)
    centre = [
        float(np.nanpercentile(np.abs(told[name] - truth[at])[both], 95))
        for name, truth in zip(("cop_left_u_mm", "cop_right_u_mm"), along, strict=True)
    ]
    return {
        "share": round(float(np.nanpercentile(np.abs(told["lead_share"] - share[at])[both], 95)), 4),
        "along mm": round(max(centre), 2),
        "balls": len(true),
        "seen": sum(any(abs(t - ball) < _NEAR_S for t in impacts) for ball in true),
        "none": sum(all(abs(t - ball) >= _NEAR_S for ball in true) for t in impacts),
        "tones": sum(not any(begin < t < end for begin, end in swung) for t in tones),
        "held": _held(home, true, times, share),
    }


def _held(home: Path, true: list[float], times: Any, share: Any) -> int:
    """Swings of the review whose interval of the share at impact holds the truth."""
    held = 0
    for swing in json.loads(_asked(home, "review", "last", "--json"))["swings"]:
        impact, measure = swing["events"].get("impact"), swing["measures"]["share_impact"]
        if impact is None or measure.get("low") is None:
            continue
        off, ball = min((abs(t - impact["t_s"]), t) for t in true)
        held += off < _NEAR_S and bool(measure["low"] <= np.interp(ball, times, share) <= measure["high"])
    return held


def _asked(home: Path, *arguments: Any) -> str:
    env = dict(os.environ, GROUNDTONE_HOME=str(home))
    command = [sys.executable, "-m", "groundtone", *map(str, arguments)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=True).stdout
