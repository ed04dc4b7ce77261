"""Five cues: each in a region and a rhythm of its own, equally loud, two at most at once, on their sides in stereo."""

import itertools

import numpy as np
import pytest
from hearing import RATE, a_level_db, excess_step, pulses, strongest_hz, telephone
from playing import NAMES, awake, named, play

from groundtone.tone.voices import CUES

# The strongest line of each, by equal temperament from A4 = 440 Hz (the trail side's is the octave of its A3).
HZ = {"toes": 1318.51, "trail": 440.0, "heels": 2349.32, "slide": 987.77, "finish": 1760.0}
CEILING = 10 ** (-6 / 20)


@pytest.mark.parametrize("name", NAMES)
def test_each_has_a_region_of_its_own(name):
    x = play(awake(), 4, **{name: 1.0})
    assert strongest_hz(x) == pytest.approx(HZ[name], abs=0.5)
    f = np.fft.rfftfreq(len(x), 1 / RATE)
    power = np.abs(np.fft.rfft(x * np.hanning(len(x)))) ** 2
    low, high = (150, 930) if name == "trail" else (HZ[name] / 1.15, HZ[name] * 1.15)
    assert power[(f > low) & (f < high)].sum() > 0.9999 * power.sum()


@pytest.mark.parametrize("size", [0.15, 0.5, 1.0])
def test_all_are_equally_loud_at_equal_size(size):
    # 10 s: ten beats of the slowest figure.
    levels = [a_level_db(play(awake(), 10, **{name: size})) for name in NAMES]
    assert max(levels) - min(levels) < 1.5
    assert np.mean(levels) == pytest.approx(20 * np.log10(0.0708) - 18 * (1 - size), abs=0.75)


def test_their_rhythms_differ_over_a_telephone():
    """Pulses in a beat, long and short ones, and beats a second tell any two apart; pitch is not looked at."""
    figures = {}
    for name in NAMES:
        heard = pulses(telephone(play(awake(), 12, **{name: 0.5})))[1:-1]
        gaps = np.array([b[0] - a[1] for a, b in itertools.pairwise(heard)])
        lengths = np.array([end - begin for begin, end in heard])
        long_gaps = gaps > 1.5 * gaps.min()
        in_a_beat = len(gaps) / max(long_gaps.sum(), 1) if long_gaps.any() else 1.0
        figures[name] = (round(in_a_beat), lengths.max() / lengths.min() > 1.5, len(heard) / 12)
    assert figures["toes"][:2] == figures["trail"][:2] == (1, False)
    assert figures["toes"][2] > 3 * figures["trail"][2]
    assert figures["heels"][:2] == (2, False)
    assert figures["slide"][:2] == (2, True)
    assert figures["finish"][:2] == (3, False)


def test_the_two_main_cues_are_told_apart_by_pitch_region_with_the_rhythm_removed():
    """Their envelopes are divided out where they sound; what remains over a telephone lies in different octaves."""
    centre = {}
    for name in ("toes", "trail"):
        x = telephone(play(awake(), 6, **{name: 0.5}))
        flat = np.concatenate([x[round((b + 0.02) * RATE) : round((b + 0.06) * RATE)] for b, e in pulses(x)[1:-1]])
        power = np.abs(np.fft.rfft(flat * np.hanning(len(flat)))) ** 2
        f = np.fft.rfftfreq(len(flat), 1 / RATE)
        centre[name] = np.exp(np.sum(power[1:] * np.log(f[1:])) / power[1:].sum())
    assert centre["toes"] > 2 * centre["trail"]


def test_two_at_most_sound_and_the_first_ones_do():
    x = play(awake(), 2, toes=0.3, trail=0.3, heels=1.0, slide=1.0, finish=1.0)
    same = play(awake(), 2, toes=0.3, trail=0.3)
    assert np.array_equal(x, same)
    x = play(awake(), 2, slide=0.5, finish=0.5, heels=0.5)
    assert np.array_equal(x, play(awake(), 2, slide=0.5, heels=0.5))


def test_one_that_takes_anothers_place_waits_until_that_has_faded():
    synth = awake()
    play(synth, 0.5, heels=1.0, slide=1.0)
    for _ in range(3):  # frames at 400 Hz: the fade of 8 ms lasts over three of them
        synth.heartbeat()
        synth.set_cues({"toes": 1.0, "heels": 1.0, "slide": 1.0})
        assert [not cue.silent for cue in synth._cues] == [False, False, True, True, False]
        synth.render(120)
    synth.render(60)
    x = play(synth, 1.0, toes=1.0, heels=1.0, slide=1.0)
    assert [not cue.silent for cue in synth._cues] == [True, False, True, False, False]
    f = np.fft.rfftfreq(RATE // 2, 1 / RATE)
    power = np.abs(np.fft.rfft(x[RATE // 2 :] * np.hanning(RATE // 2))) ** 2

    def part(name):
        return power[np.abs(f - HZ[name]) < 60].sum() / power.sum()

    assert part("toes") > 0.2
    assert part("heels") > 0.2
    assert part("slide") < 1e-4


def test_whatever_is_asked_for_the_ceiling_holds_without_the_clip():
    """The clip at the ceiling is a guard that never has to act: no sample sits on it."""
    random = np.random.default_rng(3)
    synth = awake()
    most = 0.0
    for i in range(3000):
        synth.heartbeat()
        synth.set_cues(dict(zip(CUES, random.random(5) > 0.5, strict=True)))
        if i % 30 == 0:
            synth.signal("ready")
        most = max(most, float(np.max(np.abs(synth.render(240)))))
    assert 0.5 * CEILING < most < CEILING - 1e-4


@pytest.mark.parametrize("name", NAMES)
def test_onsets_and_ends_do_not_click(name):
    synth = awake()
    random = np.random.default_rng(5)
    blocks = []
    for _ in range(150):
        synth.heartbeat()
        synth.set_cues(named({name: float(random.choice([0.0, 0.2, 1.0]))}))
        blocks.append(synth.render(int(random.integers(100, 3000))))
    highest = 880.0 if name == "trail" else HZ[name]
    assert excess_step(np.concatenate(blocks).astype(float), highest) < -40.0


@pytest.mark.parametrize("rate", [16000, 22050, 44100, 96000])
def test_other_sample_rates_sound_the_same(rate):
    for name in NAMES:
        x = play(awake(rate), 2, **{name: 1.0})
        assert strongest_hz(x, rate) == pytest.approx(HZ[name], abs=1.0)
        assert np.max(np.abs(x)) == pytest.approx(np.max(np.abs(play(awake(), 2, **{name: 1.0}))), rel=0.03)


@pytest.mark.parametrize(("lead", "trail_side"), [("left", 1), ("right", 0)])
def test_in_stereo_the_trail_side_sounds_on_its_side(lead, trail_side):
    def power(**sizes):
        x = play(awake(lead=lead), 1, **sizes)
        assert x.shape == (RATE, 2)
        return np.sum(x**2, axis=0)

    both = power(trail=1.0)
    assert 10 * np.log10(both[trail_side] / both[1 - trail_side]) == pytest.approx(16.0, abs=0.1)
    both = power(slide=1.0)
    assert 10 * np.log10(both[1 - trail_side] / both[trail_side]) == pytest.approx(16.0, abs=0.1)
    left, right = power(toes=1.0)
    assert left == pytest.approx(right, rel=1e-9)
    mono = np.sum(play(awake(), 1, toes=1.0) ** 2)
    assert left + right == pytest.approx(mono, rel=1e-6)
