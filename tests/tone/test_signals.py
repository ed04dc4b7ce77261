"""Signals: none passes for another or for a cue, and all are told apart by their shape alone."""

import itertools

import numpy as np
import pytest
from hearing import RATE, excess_step, telephone
from playing import NAMES, awake, play

from groundtone.tone.synth import Synth
from groundtone.tone.voices import SIGNALS

NEW = ("taken", "undone", "saved", "tightened", "rock")


def heard(name):
    synth = Synth()
    synth.render(2 * RATE)
    synth.signal(name)
    x = synth.render(2 * RATE).astype(float)
    return x[: np.flatnonzero(x)[-1] + 1]


def notes(x):
    """(frequency, length) of each note: onsets are where the loudness jumps up; the pitch is the strongest line."""
    n = RATE // 200
    loud = np.sqrt(np.convolve(x**2, np.ones(n) / n, "full"))[: len(x)]
    rising = loud > 1.5 * np.concatenate([np.full(n, 1e-9), loud[:-n]]) + 0.02 * loud.max()
    onsets = np.flatnonzero(np.diff(np.concatenate([[0], rising.astype(int)])) > 0)
    onsets = onsets[np.concatenate([[True], np.diff(onsets) > 0.03 * RATE])]  # a jump in the rise is no note
    edges = [*onsets, len(x)]
    out = []
    for begin, end in itertools.pairwise(edges):
        piece = x[begin:end] * np.hanning(end - begin)
        lines = np.abs(np.fft.rfft(piece, 1 << 17))
        out.append((np.argmax(lines) * RATE / (1 << 17), (end - begin) / RATE))
    return out


def shape(name):
    """How many notes, which way each step goes, and how long it takes in tenths of a second."""
    found = notes(telephone(heard(name)))
    steps = tuple(
        0 if abs(np.log2(b / a)) < 0.03 else int(np.sign(b - a)) for (a, _), (b, _) in itertools.pairwise(found)
    )
    return len(found), steps, sum(length for _, length in found)


def test_their_shapes_are_as_documented_and_no_two_alike():
    shapes = {name: shape(name) for name in SIGNALS if not name.startswith(("ask ", "club "))}
    assert {name: s[:2] for name, s in shapes.items()} == {
        "tick": (1, ()),
        "ready": (3, (1, 1)),
        "rock": (4, (-1, 1, -1)),
        "lost": (3, (-1, -1)),
        "found": (2, (1,)),
        "unseen": (3, (0, 1)),
        "again": (2, (0,)),
        "change": (2, (0,)),  # as "again", but a fifth and an octave higher
        "taken": (3, (1, -1)),
        "undone": (2, (-1,)),
        "saved": (3, (-1, 1)),
        "tightened": (5, (-1, 1, -1, 1)),
        "near": (4, (1, 1, 1)),
        "nearly": (4, (1, 1, -1)),
        "far": (4, (-1, -1, -1)),
        "good one": (1, ()),  # a glide, six times as long as the tick
    }
    assert notes(heard("change"))[0][0] > 2.5 * notes(heard("again"))[0][0]


@pytest.mark.parametrize("name", NEW)
def test_new_signals_start_and_end_at_nothing(name):
    x = heard(name)
    assert np.max(np.abs(x)) == pytest.approx(0.25 * 10 ** (-6 / 20) * 10 ** (-3 / 20), rel=0.01)
    assert excess_step(np.concatenate([[0.0], x, [0.0]]), 1760.0) < -40.0


@pytest.mark.parametrize("name", NEW)
def test_new_signals_are_short_and_no_cue(name):
    x = heard(name)
    assert 0.2 < len(x) / RATE < 0.75
    for cue in NAMES:
        y = play(awake(), 1.0, **{cue: 1.0})
        size = 1 << 17
        match = np.fft.irfft(np.fft.rfft(x, size) * np.conj(np.fft.rfft(y, size)))
        energy = np.sqrt(np.sum(x**2) * np.sum(y[: len(x)] ** 2))
        assert np.max(np.abs(match)) < 0.3 * energy
