"""Error of feel: what a golfer says of where pressure was, against where it was.

What is said is a place, not a number. So the golfer is taken to feel the true value plus a bias plus a stray that
differs from swing to swing, and to say the place in which that lies (an ordered probit with known edges). Bias and
spread are weighed on a grid; intervals are the 95 % of what the guesses leave open.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from groundtone.feel.agreement import Array, Sure
from groundtone.feel.lines import FEWEST, Line, is_about

# What is thought beforehand of bias and spread (invented, wide): a tenth of the foot either way; 0.02 to 0.4.
_BIAS, _BIAS_SD = np.linspace(-0.36, 0.36, 145), 0.12
_LOG_SPREAD = np.linspace(math.log(0.01), math.log(0.6), 80)
_USUAL, _USUAL_SD = math.log(0.08), 0.8
# A hand slips, or the wrong key is pressed: so often any place is said (invented).
_SLIP = 0.02


@dataclass(frozen=True)
class Guess:
    """One guess.

    Attributes
    ----------
    place : str
        That was said.
    position, share : float
        What was measured at impact, NaN where not known.
    line : str
        Name of the line that it was about; empty: not written down (before it was, a middle was one from heel to toe).
    """

    place: str
    position: float
    share: float
    line: str = ""


@dataclass(frozen=True)
class Feel:
    """The error of feel on a line.

    Attributes
    ----------
    n, right : int
        Guesses that counted, and those of the place where it was.
    by_chance : float
        How many would be right by guessing at random.
    p : float
        Chance of as many right, or more, at random.
    bias : Sure
        Felt less true: above 0 nearer the toes, or the lead side, than it was.
    spread : Sure
        Standard deviation of what is felt about that.
    known : bool
        There were enough guesses to say something of bias and spread.
    """

    line: Line
    n: int
    right: int
    by_chance: float
    p: float
    bias: Sure
    spread: Sure
    known: bool


def counted(guesses: Iterable[Guess], line: Line) -> list[tuple[str, float]]:
    """Place said and value of each guess that is about a line, where the value is known."""
    pairs = [
        (guess.place, float(getattr(guess, line.value)))
        for guess in guesses
        if guess.place in line.places and is_about(guess.place, guess.line, line)
    ]
    return [(place, value) for place, value in pairs if not math.isnan(value)]


def feel(guesses: Iterable[Guess], line: Line) -> Feel:
    """The error of feel on a line."""
    said = counted(guesses, line)
    n = len(said)
    right = sum(line.place(value, "impact") == place for place, value in said)
    part = 1.0 / len(line.places)
    from scipy.stats import binom  # a second to load: not before it is needed

    p = float(binom.sf(right - 1, n, part)) if n else math.nan
    nothing = Sure.unknown()
    if n < FEWEST:
        return Feel(line, n, right, n * part, p, nothing, nothing, False)
    weight = _weights(said, line)
    bias = _sure(_BIAS, weight.sum(axis=1))
    log = _sure(_LOG_SPREAD, weight.sum(axis=0))
    spread = Sure(math.exp(log.value), math.exp(log.low), math.exp(log.high))
    return Feel(line, n, right, n * part, p, bias, spread, True)


def _weights(said: list[tuple[str, float]], line: Line) -> Array:
    """How likely each bias and spread is after the guesses, shape (biases, spreads), adding up to 1."""
    from scipy.special import ndtr

    low, high = line.edges("impact")
    ends = {line.places[0]: (-math.inf, low), line.places[1]: (low, high), line.places[2]: (high, math.inf)}
    spread = np.exp(_LOG_SPREAD)[None, :]
    log = -0.5 * (_BIAS[:, None] / _BIAS_SD) ** 2 - 0.5 * ((_LOG_SPREAD[None, :] - _USUAL) / _USUAL_SD) ** 2
    for place, value in said:
        begin, end = ends[place]
        felt = value + _BIAS[:, None]
        chance = ndtr((end - felt) / spread) - ndtr((begin - felt) / spread)
        log = log + np.log((1.0 - _SLIP) * chance + _SLIP / len(line.places))
    weight: Array = np.exp(log - log.max())
    weight /= weight.sum()
    return weight


def _sure(grid: Array, weight: Array) -> Sure:
    """Median and 95 % interval of a grid with weights, straight between its points."""
    sums = np.cumsum(weight) - 0.5 * weight
    low, value, high = np.interp([0.025, 0.5, 0.975], sums, grid)
    return Sure(float(value), float(low), float(high))
