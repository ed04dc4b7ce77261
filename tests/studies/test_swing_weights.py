"""The fit of the swing's weights: what single answers cannot say is learnt, and the file says what was learnt."""

import math
import tomllib

import numpy as np
import pytest

from groundtone.swing import evidence
from groundtone.swing.evidence import Evidence
from studies.swing_weights import RAISED, as_toml, learnt

NAMES = ["push", "speed", "setup"]


@pytest.fixture(scope="module")
def either():
    """A swing where push and speed are both large or both small; the setup says nothing."""
    table = np.random.default_rng(1).normal(0.0, 1.0, (800, 3))
    return table, (table[:, 0] * table[:, 1] > 0).astype(float)


def test_what_two_answers_say_only_together_is_learnt(either):
    table, was = either
    weights = learnt(NAMES, table[:600], was[:600])
    told = weights.odds(table[600:]) - RAISED > 0
    assert (told == (was[600:] > 0.5)).mean() > 0.93


def test_the_file_says_what_was_learnt(either, monkeypatch):
    weights = learnt(NAMES, *either)
    table = tomllib.loads(as_toml(weights))
    monkeypatch.setattr(evidence, "_weights", lambda: table)
    evidence._together.cache_clear()
    try:
        for row in (*either[0][:5], np.array([math.nan, 0.4, -9.0])):
            seen = Evidence(dict(zip(NAMES, row, strict=True)), *[0.0] * 8, walked=False)
            assert evidence.odds(seen) == pytest.approx(float(weights.odds(row[None])[0]), abs=0.02)
    finally:
        evidence._together.cache_clear()
