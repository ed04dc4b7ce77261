"""Feel's figures on simulated learners: whether intervals hold, strikes are foretold, and a plan lasts for a week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from groundtone.feel.agreement import Sure
from groundtone.feel.guess import Guess, feel
from groundtone.feel.lines import FEWEST, HEEL_TOE, ORDERS, ROWS, SIDE, asks, heights
from groundtone.feel.plan import Plan
from groundtone.feel.purpose import Try, command, height
from groundtone.feel.strike_model import USUAL, learn
from groundtone.tone.synth import Synth
from groundtone.tone.voices import ASKING, CUES
from groundtone.twin.learner import Learner, LearnerSpec, Striker, drawn
from studies.study import study

RATE_HZ = 48000
_WEEK = 7.0
_CLUBS = ("driver", "7 iron", "wedge")
_BALLS = 60
# Golfers 0 to 13999 were looked at while the model and its proposals were made.
_GOLFERS = 30000


def study_feel(seeds: int | None = None) -> dict[str, Any]:
    """The figures over `seeds` learners (1,000; half as many golfers who strike); `ok`: each is what is asked for.

    It can be cut and goes on where it was: see `studies.study`.
    """
    asked = seeds or 1000
    made_of = {"rooms": ("feel", "twin"), "also": ("feel.py",)}
    people = study("feel learners", _learner, range(asked), **made_of)
    golfers = study("feel strikes", _striker, range(_GOLFERS, _GOLFERS + max(10, asked // 2)), **made_of)
    plans = study("feel plans", _plan, range(max(10, asked // 3)), **made_of)
    out: dict[str, Any] = {"learners": len(people.seeds), "golfers who strike": len(golfers.seeds)}
    names = dict.fromkeys(name for each in people.results for name in each)
    held = {name: [bool(each[name]) for each in people.results if name in each] for name in names}
    parts = {name: float(np.mean(each)) for name, each in held.items()}
    for name, part in parts.items():
        out[f"interval holds the planted one, {name} (0.92 to 0.98 asked), of {len(held[name])}"] = round(part, 4)
    claims = _too_few()
    out[f"claims from fewer than {FEWEST} tries or guesses, of {claims[1]} (0 asked)"] = claims[0]
    region, rhythm = _sounds()
    out["asking sounds: middle of the spectrum to the nearest cue's, ratio, least (1.15 asked)"] = round(region, 3)
    out["asking sounds: length of a knock over what follows it, most (0.6 asked; no cue below 1 twice)"] = round(
        rhythm, 3
    )
    bins, worst, gain, lost, least, moved = _strikes(golfers.results)
    out["strikes: foretold, came, balls"] = bins
    out["strikes: largest gap of a tenth with 200 balls or more (0.05 asked)"] = round(worst, 4)
    out["strikes: bands moved, of two a golfer; those that lose good strikes (0 asked)"] = [moved, lost]
    out["strikes: good ones of a hundred more than with the usual band: a moved one, the least of them, all"] = [
        round(100 * each, 2) for each in (gain * 2 * len(golfers.seeds) / max(moved, 1), least, gain)
    ]
    better, worse_planted = (_mean([each[i] for each in plans.results]) for i in (0, 1))
    out["a week later, error left of blocked practice with the tone always on less the plan's, mean and 95 %"] = better
    out["the same where it was planted that change and silence keep less"] = worse_planted
    out["ok"] = (
        all(each.whole for each in (people, golfers, plans))
        and all(0.92 <= part <= 0.98 for part in parts.values())
        and claims[0] == 0
        and region > 1.15
        and rhythm < 0.6
        and worst <= 0.05
        and moved > 0
        and lost == 0
        and better[1] > 0.0
        and worse_planted[2] < 0.0
    )
    return out


def _holds(sure: Sure, planted: float) -> bool:
    return sure.low <= planted <= sure.high


def _learner(seed: int) -> dict[str, bool]:
    """Which intervals of one learner hold what was planted: range on purpose, height on the face, error of feel."""
    return {**_purpose(seed), **_height(seed), **_guesses(seed)}


def _purpose(seed: int) -> dict[str, bool]:
    rng = np.random.default_rng([seed, 7])
    spec, line = drawn(rng), (HEEL_TOE, SIDE)[seed % 2]
    learner, moment = Learner(spec, seed), ("setup", "impact")[seed // 2 % 2]
    places = asks([line], ORDERS[seed // 4 % 2], int(rng.integers(3, 9)), seed)
    goals = np.array([line.goal(place, moment) for place in places])
    done = [learner.does(goal) for goal in goals.tolist()]
    tries = [
        Try(place, moment, *((value, 0.5) if line is HEEL_TOE else (0.5, value)), line=line.name)
        for place, value in zip(places, done, strict=True)
    ]
    found = command(tries, line, moment)
    assert found.fit is not None
    # Skill drifts within the block: what is true of it is the line through what was meant.
    slope, height_ = np.polyfit(goals, np.array(learner.meant), 1)
    ends = line.goals[moment][0], line.goals[moment][-1]
    middle = float(goals.mean())
    return {
        name: _holds(sure, float(planted))
        for name, sure, planted in (
            ("range from", found.low, height_ + slope * ends[0]), ("range to", found.high, height_ + slope * ends[1]),
            ("slope", found.fit.slope, slope), ("offset", found.fit.offset, height_ + slope * middle - middle),
            ("scatter", found.fit.spread, spec.spread),
        )
    }  # fmt: skip


def _height(seed: int) -> dict[str, bool]:
    """Low and high on the face come as asked as often as was planted."""
    rng = np.random.default_rng([seed, 13])
    planted, times = float(rng.uniform(0.2, 0.95)), int(rng.integers(4, 16))
    tries = []
    for place in heights("random", times, seed):
        others = [row for row in ROWS if row != place]
        row = place if rng.random() < planted else others[int(rng.integers(2))]
        tries.append(Try(place, "impact", 0.5, 0.75, row))
    return {"low and high as asked": _holds(height(tries).part, planted)}


def _guesses(seed: int) -> dict[str, bool]:
    rng = np.random.default_rng([seed, 8])
    spec, line = drawn(rng), (HEEL_TOE, SIDE)[seed % 2]
    learner = Learner(spec, seed)
    low, middle, high = line.goals["impact"]
    values = rng.normal(middle + rng.uniform(-0.06, 0.06), rng.uniform(0.03, 0.09), int(rng.integers(FEWEST, 41)))
    guesses = []
    for value in values.tolist():
        felt = learner.feels(value)
        # The edges are half-way between the places asked for.
        at = 0 if felt < (low + middle) / 2 else 2 if felt > (middle + high) / 2 else 1
        position, share = (value, 0.5) if line is HEEL_TOE else (0.5, value)
        guesses.append(Guess(line.places[at], position, share, line.name))
    found = feel(guesses, line)
    return {
        "bias of feel": _holds(found.bias, float(np.mean(learner.biases))),
        "spread of feel": _holds(found.spread, spec.feel_spread),
    }


def _too_few() -> tuple[int, int]:
    """Claims made from too few tries or guesses, and in how many cases."""
    claims = cases = 0
    for seed in range(200):
        learner, rng = Learner(drawn(np.random.default_rng([seed, 9])), seed), np.random.default_rng([seed, 10])
        n = int(rng.integers(0, FEWEST))
        places = [str(place) for place in rng.choice(HEEL_TOE.places, n)]
        tries = [Try(place, "setup", learner.does(HEEL_TOE.goal(place, "setup")), 0.5) for place in places]
        claims += command(tries, HEEL_TOE, "setup").told
        claims += feel([Guess(place, float(rng.normal(0.5, 0.1)), 0.5) for place in places], HEEL_TOE).known
        cases += 2
    return claims, cases


def _heard(synth: Synth) -> NDArray[np.float64]:
    band = signal.butter(4, (300, 3400), "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(signal.sosfilt(band, synth.render(2 * RATE_HZ).astype(np.float64)))


def _middle_hz(x: NDArray[np.float64]) -> float:
    """The middle of the spectrum, as in the study of the sound."""
    power = np.abs(np.fft.rfft(x * np.hanning(len(x))))[1:] ** 2
    f = np.fft.rfftfreq(len(x), 1 / RATE_HZ)[1:]
    return float(np.exp(np.sum(power * np.log(f)) / np.sum(power)))


def _sounds() -> tuple[float, float]:
    """Over a telephone: the least ratio of an asking sound's region to a cue's, and the most that a knock lasts."""
    cues = []
    for name in CUES:
        synth = Synth(RATE_HZ)
        synth.render(2 * RATE_HZ)
        blocks = []
        for _ in range(400):
            synth.heartbeat()
            synth.set_cues({name: 0.5})
            blocks.append(synth.render(RATE_HZ // 100))
        band = signal.butter(4, (300, 3400), "bandpass", fs=RATE_HZ, output="sos")
        cues.append(_middle_hz(np.asarray(signal.sosfilt(band, np.concatenate(blocks).astype(np.float64)))))
    regions, rhythms = [], []
    for name in (*ASKING, "ask feel"):
        synth = Synth(RATE_HZ)
        synth.render(2 * RATE_HZ)
        synth.signal(name)
        x = _heard(synth)
        x = x[: int(np.flatnonzero(np.abs(x) > 1e-4)[-1])]
        regions.append(min(max(_middle_hz(x) / cue, cue / _middle_hz(x)) for cue in cues))
        loud = np.convolve(np.abs(x), np.ones(480) / 480, "same")
        edges = np.flatnonzero(np.diff(np.concatenate([[0], (loud > 0.15 * loud.max()).astype(int), [0]])))
        lengths = np.diff(edges)[::2]
        rhythms.append(float(lengths[:2].max() / lengths[2:].min()))
    return min(regions), max(rhythms)


def _striker(seed: int) -> dict[str, list[float]]:
    """One golfer: what was foretold of fresh balls, what came, and what a band that is proposed brings."""
    striker, rng = Striker(seed), np.random.default_rng([seed, 11])
    own = striker.balls(int(rng.integers(8, 121)))
    model = learn([(a, b, c) for a, b, c in own.tolist()], striker.struck(own).tolist())
    fresh = striker.balls(40)
    gains = []
    for axis, name in enumerate(("position", "share")):
        proposal = model.propose(name)
        if proposal.moved:
            # Aimed at the usual middle and at the proposed one, with the golfer's own scatter, else as usual.
            aimed = np.tile(USUAL, (2000, 1)) + rng.normal(0.0, striker.scatter, (2000, 3)) * np.eye(3)[axis]
            moved = aimed + (proposal.proposed - proposal.usual) * np.eye(3)[axis]
            gains.append(float(np.mean(striker.chance(moved) - striker.chance(aimed))))
    return {"foretold": model.chances(fresh).tolist(), "came": striker.struck(fresh).astype(float).tolist(),
            "gains": gains}  # fmt: skip


def _strikes(
    golfers: Sequence[dict[str, list[float]]],
) -> tuple[list[tuple[float, float, int]], float, float, int, float, int]:
    """Reliability by tenths, its largest gap; what bands that are proposed bring, the least, how many were moved."""
    p, y = (np.array([value for each in golfers for value in each[name]]) for name in ("foretold", "came"))
    tenth = np.minimum((10 * p).astype(int), 9)
    bins = [(round(float(p[tenth == k].mean()), 3), round(float(y[tenth == k].mean()), 3), int((tenth == k).sum()))
            for k in range(10) if (tenth == k).any()]  # fmt: skip
    worst = max(abs(a - b) for a, b, n in bins if n >= 200) if any(n >= 200 for *_, n in bins) else float("nan")
    moved = np.array([gain for each in golfers for gain in each["gains"]])
    return (
        bins,
        worst,
        float(moved.sum() / (2 * len(golfers))),
        int((moved < 0.0).sum()),
        float(moved.min()) if moved.size else 0.0,
        moved.size,
    )


def _plan(seed: int) -> tuple[float, float]:
    """Error left a week after blocked practice with the tone always on, less that after the plan; as it was planted
    that change and silence help, and that they hinder."""
    balls = Plan("", _CLUBS, "", _BALLS, seed, made="2026-01-01").all_balls()
    planned = [(ball.club, ball.tone) for ball in balls]
    blocked = [(_CLUBS[i * len(_CLUBS) // _BALLS], True) for i in range(_BALLS)]
    gaps = []
    for planted in (1.0, -0.9):
        spec = drawn(np.random.default_rng([seed, 12]))
        spec = LearnerSpec(**{**vars(spec), "change_helps": planted, "silence_helps": planted})
        left = []
        for schedule in (blocked, planned):
            learner = Learner(spec, seed)
            learner.practises(schedule)
            learner.sleeps(_WEEK)
            left.append(abs(float(np.mean(learner.silent(10)))))
        gaps.append(left[0] - left[1])
    return gaps[0], gaps[1]


def _mean(gaps: Sequence[float]) -> tuple[float, float, float]:
    """Mean and 95 %."""
    mean, half = float(np.mean(gaps)), 1.96 * float(np.std(gaps, ddof=1)) / len(gaps) ** 0.5
    return round(mean, 4), round(mean - half, 4), round(mean + half, 4)
