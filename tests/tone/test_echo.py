"""The slow echo: pitch is the share, brightness the position, timbre changes where the swing did; it is cut at once."""

import numpy as np
import pytest
from hearing import RATE, a_level_db, strongest_hz
from playing import awake

from groundtone.errors import ToneError
from groundtone.tone.echo import EchoPath, echo_wave
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth

NAN = float("nan")


def path(share=0.5, position=0.5, seconds=1.5, turn=NAN, impact=NAN, **more):
    t = 100.0 + np.arange(round(seconds * 200)) / 200
    return EchoPath(t, share + 0.0 * t, position + 0.0 * t, turn, impact, **more)


def fundamental_hz(x):
    """By autocorrelation, which does not care how strong each harmonic is: the shortest lag that repeats the sound."""
    power = np.abs(np.fft.rfft(x * np.hanning(len(x)), 2 * len(x))) ** 2
    lags = np.fft.irfft(power)[: RATE // 150]
    high = np.flatnonzero(lags > 0.95 * lags[RATE // 1000 :].max())
    high = high[high >= RATE // 1000]
    first = high[: np.flatnonzero(np.diff(np.append(high, 1 << 30)) > 1)[0] + 1]
    return RATE / first[np.argmax(lags[first])]


def harmonics(x, hz):
    """Amplitudes of six harmonics relative to the strongest."""
    lines = np.abs(np.fft.rfft(x * np.hanning(len(x)), 8 * len(x)))
    f = np.fft.rfftfreq(8 * len(x), 1 / RATE)
    found = np.array([lines[np.abs(f - k * hz) < 15].max() for k in range(1, 7)])
    return found / found.max()


def line(x, hz):
    """Amplitude of one frequency."""
    return abs(np.sum(x * np.hanning(len(x)) * np.exp(-2j * np.pi * hz * np.arange(len(x)) / RATE)))


@pytest.mark.parametrize(("share", "hz"), [(0.1, 196.0), (0.3, 277.19), (0.5, 392.0), (0.9, 784.0), (1.0, 784.0)])
def test_the_share_is_the_pitch(share, hz):
    # Two octaves from a lead share of 0.1 (G3) to 0.9 (G5): 196 * 4 ** ((share - 0.1) / 0.8), by hand.
    x = echo_wave(path(share, 0.5), RATE)
    assert fundamental_hz(x[RATE : 2 * RATE]) == pytest.approx(hz, rel=0.01)


@pytest.mark.parametrize("slower", [3.0, 4.0, 5.0])
def test_it_is_so_many_times_slower(slower):
    t = np.arange(300) / 200
    share = np.where(t < 0.75, 0.3, 0.7)
    x = echo_wave(EchoPath(t, share, np.full(300, 0.5), NAN, NAN), RATE, slower)
    assert len(x) / RATE == pytest.approx(299 / 200 * slower, abs=1e-4)
    step = round(0.75 * slower * RATE)
    assert fundamental_hz(x[step - RATE // 2 : step - RATE // 8]) == pytest.approx(277.19, rel=0.01)
    assert fundamental_hz(x[step + RATE // 8 : step + RATE // 2]) == pytest.approx(554.37, rel=0.01)


def test_the_toes_are_brighter_than_the_heels_and_no_louder():
    heels, toes = (echo_wave(path(0.5, p), RATE)[RATE : 3 * RATE] for p in (0.0, 1.0))
    # A harmonic k has 1/k^3 at the heels and 1/k^0.8 at the toes.
    assert harmonics(heels, 392.0)[:3] == pytest.approx([1.0, 1 / 8, 1 / 27], rel=0.03)
    assert harmonics(toes, 392.0)[:3] == pytest.approx([1.0, 2**-0.8, 3**-0.8], rel=0.03)
    assert a_level_db(toes) == pytest.approx(a_level_db(heels), abs=0.2)


def test_everywhere_equally_loud():
    t = np.arange(400) / 200
    x = echo_wave(EchoPath(t, t / 2.0, 0.5 + 0.3 * np.sin(6 * t), 0.8, 1.2), RATE)
    levels = [a_level_db(x[i : i + RATE // 4]) for i in range(RATE // 4, len(x) - RATE // 2, RATE // 4)]
    assert max(levels) - min(levels) < 1.5


def test_timbre_changes_at_the_turn_and_at_impact_and_pitch_does_not():
    x = echo_wave(path(0.5, 0.5, 1.5, turn=100.5, impact=101.0), RATE, 4.0)  # as heard: at 2 s and at 4 s
    full, hollow, octave = (
        harmonics(x[round(b * RATE) : round(e * RATE)], 392.0) for b, e in ((1, 1.9), (2.1, 3.9), (4.1, 5))
    )
    assert full[1] > 0.2
    assert hollow[1] < 0.01  # only odd harmonics
    assert hollow[2] > 0.1
    assert octave[1] / octave[0] == pytest.approx(2**-1.9 / 0.4, rel=0.05)
    # The change is over within 60 ms: the second harmonic against the first, just before and just after.
    there, gone, strong = 2**-1.9, 0.0, 2**-1.9 / 0.4
    for begin, expected in ((1.91, there), (2.035, gone), (3.91, gone), (4.035, strong)):
        piece = x[round(begin * RATE) : round((begin + 0.055) * RATE)]
        assert line(piece, 784.0) / line(piece, 392.0) == pytest.approx(expected, abs=0.02)


def test_nothing_beats_and_nothing_clicks():
    t = np.arange(400) / 200
    random = np.random.default_rng(2)
    share = np.clip(0.5 + 0.3 * np.sin(3 * t) + 0.02 * random.standard_normal(400), 0, 1)
    x = echo_wave(EchoPath(t, share, np.full(400, 0.6), 0.8, 1.2), RATE)
    middle = x[RATE : len(x) - RATE]
    n = RATE // 50
    loud = np.sqrt(np.convolve(middle**2, np.ones(n) / n, "valid"))
    assert loud.min() > 0.5 * loud.max()  # no pulse, no pause
    f = np.fft.rfftfreq(len(x), 1 / RATE)
    power = np.abs(np.fft.rfft(x * np.hanning(len(x)))) ** 2
    assert power[f > 8000].sum() < 1e-7 * power.sum()
    # First and last samples: against the largest, under -60 dB.
    assert max(abs(x[0]), abs(x[-1])) < 1e-3 * np.max(np.abs(x))


def test_what_is_not_known_is_silent_and_fades():
    t = np.arange(400) / 200
    share = np.full(400, 0.5)
    share[100:200] = NAN
    position = np.full(400, 0.5)
    position[300:320] = NAN
    x = echo_wave(EchoPath(t, share, position, NAN, NAN), RATE, 4.0)
    sounds = np.abs(x) > 1e-9
    assert not sounds[round(99 / 50 * RATE) : round(200 / 50 * RATE)].any()
    assert not sounds[round(299 / 50 * RATE) + 1 : round(320 / 50 * RATE)].any()
    assert sounds[round(95 / 50 * RATE) : round(98 / 50 * RATE)].mean() > 0.98
    assert sounds[round(202 / 50 * RATE) : round(298 / 50 * RATE)].mean() > 0.98
    edge = round(99 / 50 * RATE)
    assert np.max(np.abs(x[edge - 48 : edge])) < 0.01 * np.max(np.abs(x))


def test_nothing_is_made_up_between_frames_that_were_lost():
    t = np.concatenate([np.arange(100) / 200, 0.8 + np.arange(100) / 200])
    x = echo_wave(EchoPath(t, np.full(200, 0.5), np.full(200, 0.5), NAN, NAN), RATE, 3.0)
    assert not np.any(x[round(0.496 * 3 * RATE) : round(0.799 * 3 * RATE)])


def test_all_unknown_is_no_sound_and_a_long_path_is_cut():
    assert len(echo_wave(path(NAN), RATE)) == 0
    assert len(echo_wave(path(0.5, 0.5, 5.0), RATE)) == 8 * RATE
    assert abs(echo_wave(path(0.5, 0.5, 5.0), RATE)[-1]) < 1e-4


def test_the_loudest_echo_keeps_the_ceiling_of_the_cues():
    for share in (0.0, 0.5, 1.0):
        for position in (0.0, 1.0):
            assert np.max(np.abs(echo_wave(path(share, position), RATE))) <= 0.75 * 10 ** (-6 / 20) + 1e-9


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (EchoPath([0.0, 1.0], [0.5], [0.5, 0.5], NAN, NAN), "as many times"),
        (EchoPath([1.0, 0.5], [0.5, 0.5], [0.5, 0.5], NAN, NAN), "must increase"),
        (EchoPath([0.0, 1.0], [0.5, 0.5], [0.5, 0.5], NAN, NAN, "front"), "is 'left' or 'right', not 'front'"),
        (EchoPath([0.0, NAN], [0.5, 0.5], [0.5, 0.5], NAN, NAN), "must increase"),
    ],
)
def test_a_path_that_is_none_is_refused(bad, says):
    with pytest.raises(ToneError, match=says):
        echo_wave(bad, RATE)
    with pytest.raises(ToneError, match="3 to 5 times"):
        echo_wave(path(), RATE, 9.0)
    with pytest.raises(ToneError, match="3 to 5 times"):
        Synth(slower=2.0)


def sounding():
    synth = awake()
    synth.echo(path())
    for _ in range(20):
        synth.heartbeat()
        last = synth.render(480)
    assert np.max(np.abs(last)) > 0.01
    return synth


def test_rest_cuts_it_within_8_ms_without_a_click():
    synth = sounding()
    synth.rest()
    x = synth.render(RATE).astype(float)
    assert not np.any(x[round(0.008 * RATE) :])
    assert np.max(np.abs(np.diff(x[: round(0.01 * RATE)]))) < 0.1 * np.max(np.abs(x)) + 0.005


def test_a_cue_cuts_it_within_8_ms():
    synth = sounding()
    synth.set_cues({"toes": 0.5})
    x = synth.render(RATE // 5).astype(float)
    other = awake()
    other.set_cues({"toes": 0.5})
    assert np.array_equal(x[400:], other.render(RATE // 5).astype(float)[400:])


def test_a_loss_cuts_it_and_none_begins_while_lost():
    synth = sounding()
    x = synth.render(RATE).astype(float)
    other = Synth()
    other.render(2 * RATE)
    other.signal("lost")
    # 250 ms after the last frame, which was 480 samples ago.
    assert np.max(np.abs(x[11520:] - other.render(RATE - 11520))) < 1e-7
    assert synth.lost
    synth.render(RATE)
    synth.echo(path())
    assert not np.any(synth.render(4800))


def test_none_begins_while_a_cue_sounds_and_a_new_one_takes_the_olds_place():
    synth = awake()
    synth.set_cues({"toes": 0.5})
    synth.render(480)
    synth.echo(path())
    synth.set_cues({})
    synth.render(480)
    synth.heartbeat()
    assert not np.any(synth.render(4800))
    synth = sounding()
    synth.echo(path(0.9))
    for _ in range(40):
        synth.heartbeat()
        x = synth.render(2400)
    assert strongest_hz(x) == pytest.approx(784.0, rel=0.02)


def test_in_review_it_sounds_without_a_mat():
    out = OfflinePlayer(Synth())
    out.start()
    synth = out._synth
    out.echo(path())
    assert np.max(np.abs(synth.render(RATE))) > 0.005


def test_in_stereo_it_wanders_to_the_lead_side():
    for lead, lead_channel in (("left", 0), ("right", 1)):
        x = echo_wave(path(0.9, 0.5, lead=lead), RATE, stereo=True)
        power = np.sum(x**2, axis=0)
        assert power[lead_channel] > 30 * power[1 - lead_channel]


def test_the_length_of_the_blocks_does_not_matter():
    def run(blocks):
        synth = awake()
        synth.echo(path())
        out = [synth.render(blocks[0])]
        synth.rest()
        return np.concatenate([*out, *(synth.render(n) for n in blocks[1:])])

    assert np.max(np.abs(run([5000, 1, 7, 480, 4512]) - run([5000, 5000]))) < 1e-7
