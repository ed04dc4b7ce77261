"""Phases and tones on the board, on MicroPython, beside the computer's own rules: one set of vectors for both."""

import json

import cue_vectors
import numpy as np
import pytest

SCRIPT = """
import json, struct, sys
from array import array
from mat.alone import cues, phases
plan = json.loads(open("plan.json").read())
follow, heard = phases.Phases(), cues.Cues(plan["limits"], False)
file = open("numbers", "rb")
values = array("h", bytes(10))
strikes = {int(k): v for k, v in plan["strikes"].items()}
i = 0
while file.readinto(values):
    t = (i + 1) * plan["period"]
    share, overall, lead, force, toes = [phases.NOTHING if v == -32768 else v for v in values]
    brought = follow.step(t, share, strikes.get(i, -1), force, toes)
    heard.step(t, follow, share, overall, lead, force)
    print(follow.phase, brought & phases.ENDED, *heard.sizes)
    i += 1
"""


@pytest.fixture(scope="module")
def vectors():
    return cue_vectors.load()


def by_board(mpy, folder, numbers, strikes, period):
    (folder / "numbers").write_bytes(numbers.tobytes())
    plan = {"limits": cue_vectors.limits(), "strikes": strikes, "period": period}
    (folder / "plan.json").write_text(json.dumps(plan))
    return np.array([line.split() for line in mpy(SCRIPT).splitlines()], int)


def test_the_vectors_hold_every_tone_strikes_and_swings(vectors):
    assert (sum((wanted[:, 2:] > 0).any(0).astype(int) for *_, wanted in vectors) > 0).all()
    assert sum(wanted[:, 1].sum() for *_, wanted in vectors) >= 10
    assert sum(len(strikes) for _, strikes, _, _ in vectors) >= 5


@pytest.mark.parametrize("k", range(len(cue_vectors.SESSIONS)))
def test_the_computers_rules_still_say_what_the_vectors_do(vectors, k):
    numbers, strikes, period, wanted = vectors[k]
    assert (cue_vectors.heard(numbers, strikes, period) == wanted).all(), "python tests/firmware/cue_vectors.py"


@pytest.mark.parametrize("k", range(len(cue_vectors.SESSIONS)))
def test_the_board_says_the_same_in_every_frame_but_few(vectors, mpy, tmp_path, k):
    numbers, strikes, period, wanted = vectors[k]
    got = by_board(mpy, tmp_path, numbers, strikes, period)
    sounds, should = got[:, 2:] > 0, wanted[:, 2:] > 0
    assert (got[:, 0] == wanted[:, 0]).mean() > 0.995
    assert (sounds == should).all(1).mean() > 0.995
    assert abs(got[:, 2:] - wanted[:, 2:])[sounds & should].max(initial=0) < 0.01 * cue_vectors.ONE
    # Each tone begins within a frame, each swing ends with its own.
    for cue in range(sounds.shape[1]):
        begins = [np.flatnonzero(np.diff(of[:, cue].astype(int), prepend=0) > 0) for of in (sounds, should)]
        assert len(begins[0]) == len(begins[1])
        assert abs(begins[0] - begins[1]).max(initial=0) <= 1
    ended = [np.flatnonzero(of[:, 1]) for of in (got, wanted)]
    assert len(ended[0]) == len(ended[1])
    assert abs(ended[0] - ended[1]).max(initial=0) <= 1
