"""Sounds that ask: none passes for a cue or for another, and what is spoken is heard, or silent without an engine."""

import numpy as np
import pytest
from hearing import RATE, excess_step, pulses, telephone
from playing import NAMES, awake, play

from groundtone.tone import speech
from groundtone.tone.speech import WORDS, phrase, spoken
from groundtone.tone.synth import Synth
from groundtone.tone.voices import ASKING, CEILING, SIGNALS


def heard(name, **more):
    synth = Synth(**more)
    synth.render(2 * RATE)
    synth.signal(name)
    x = synth.render(2 * RATE).astype(float)
    return x[: np.flatnonzero(x)[-1] + 1] if x.any() else x[:0]


def middle_hz(x):
    """The middle of the spectrum over a telephone, as the study of the sound has it."""
    x = telephone(x)
    power = np.abs(np.fft.rfft(x * np.hanning(len(x))))[1:] ** 2
    f = np.fft.rfftfreq(len(x), 1 / RATE)[1:]
    return float(np.exp(np.sum(power * np.log(f)) / np.sum(power)))


def figure(name):
    """How long each part of an asking sound is, and which way its pitch goes in each long part (-1, 0, 1)."""
    x = telephone(heard(name))
    parts = pulses(x, part=0.15)
    ways = []
    for begin, end in parts:
        piece = x[round(begin * RATE) : round(end * RATE)]
        if len(piece) > 0.1 * RATE:
            thirds = np.array_split(piece, 3)
            low, high = middle_hz(thirds[0]), middle_hz(thirds[-1])
            ways.append(0 if abs(np.log2(high / low)) < 0.1 else int(np.sign(high - low)))
    return [end - begin for begin, end in parts], ways


def test_there_are_seven_and_their_figures_are_all_their_own():
    wanted = {
        "ask toes": [1], "ask heels": [-1], "ask middle": [0], "ask lead": [1, 1], "ask trail": [-1, -1],
        "ask high": [1, 1, 1], "ask low": [-1, -1, -1],
    }  # fmt: skip
    assert {name: figure(name)[1] for name in ASKING} == wanted
    assert figure("ask feel")[1] == [1, -1]
    for number in range(1, 6):
        assert len(figure(f"club {number}")[0]) == 1 + number


@pytest.mark.parametrize("name", [*ASKING, "ask feel"])
def test_two_knocks_begin_what_asks_and_no_cue_has_that_rhythm(name):
    lengths, _ = figure(name)
    assert len(lengths) >= 3
    assert max(lengths[:2]) < 0.6 * min(lengths[2:])
    for cue in NAMES:
        beats = pulses(telephone(play(awake(), 8, **{cue: 0.5})))[1:-1]
        long = [end - begin for begin, end in beats]
        # Two short ones and then longer ones alone: no cue ever goes on so.
        assert not any(max(long[i], long[i + 1]) < 0.6 * long[i + 2] for i in range(len(long) - 2))


@pytest.mark.parametrize("name", [*ASKING, "ask feel"])
def test_their_region_is_between_the_cues(name):
    middles = {cue: middle_hz(play(awake(), 4, **{cue: 0.5})) for cue in NAMES}
    own = middle_hz(heard(name))
    assert middles["trail"] * 1.15 < own < middles["slide"] / 1.15


@pytest.mark.parametrize("name", sorted(set(SIGNALS) & {*ASKING, "ask feel", "near", "nearly", "far", "club 3"}))
def test_they_match_no_cue_and_do_not_click(name):
    x = heard(name)
    assert 0.2 < len(x) / RATE < 1.0
    assert excess_step(np.concatenate([[0.0], x, [0.0]]), 2200.0) < -40.0
    for cue in NAMES:
        y = play(awake(), 1.2, **{cue: 1.0})
        size = 1 << 17
        match = np.fft.irfft(np.fft.rfft(x, size) * np.conj(np.fft.rfft(y, size)))
        assert np.max(np.abs(match)) < 0.3 * np.sqrt(np.sum(x**2) * np.sum(y[: len(x)] ** 2))


@pytest.mark.parametrize("language", list(WORDS))
def test_words_are_spoken_under_the_ceiling(language):
    words = spoken(language, RATE, 0.1)
    assert set(words) == set(WORDS[language])
    for wave in words.values():
        assert 0.1 < len(wave) / RATE < 2.0
        assert np.max(np.abs(wave)) == pytest.approx(0.1)
    both = heard("say 7-iron", words=language)
    assert len(both) == pytest.approx(len(words["7"]) + len(words["iron"]), abs=RATE // 50)
    assert 0.9 * 0.25 * CEILING < np.max(np.abs(both)) <= 0.25 * CEILING + 1e-6


def test_the_two_languages_say_the_same():
    assert len({frozenset(words) for words in WORDS.values()}) == 1


def test_without_an_engine_it_is_silent(monkeypatch):
    monkeypatch.setattr(speech.shutil, "which", lambda name: None)
    assert spoken("en", RATE, 0.1) == {}
    synth = Synth(words="en")
    synth.signal("say toes")
    assert synth.silent or not synth.render(RATE).any()
    assert phrase("say a word nobody knows", {}).size == 0


def test_an_engine_that_fails_is_silent(monkeypatch):
    monkeypatch.setattr(speech.shutil, "which", lambda name: "/bin/false")
    assert spoken("en", RATE, 0.1) == {}
