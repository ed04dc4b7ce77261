"""What is heard: pitch, loudness, rhythm, clicks, the ceiling and the watchdog."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groundtone.errors import ToneError
from groundtone.tone.synth import Synth

RATE = 48000
E6_HZ = 440.0 * 2 ** (19 / 12)  # nineteen semitones over A4
CEILING = 10 ** (-6 / 20)
HALF_STEP = 2.0**-16


def unwatched() -> Synth:
    """A synthesiser whose soft start is over and which has seen no frame."""
    synth = Synth(RATE)
    synth.render(2 * RATE)
    return synth


def awake(level: float = 1.0) -> Synth:
    """A synthesiser whose soft start is over and whose watchdog has been fed."""
    synth = Synth(RATE, level)
    synth.render(2 * RATE)
    synth.heartbeat()
    return synth


def play(synth: Synth, seconds: float, toes: float, trail: float) -> np.ndarray:
    """Frames at 100 Hz with the same sizes."""
    blocks = []
    for _ in range(round(seconds * 100)):
        synth.heartbeat()
        synth.set_cues({"toes": toes, "trail side": trail})
        blocks.append(synth.render(480))
    return np.concatenate(blocks).astype(float)


def spectrum(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    power = np.abs(np.fft.rfft(x * np.hanning(len(x)))) ** 2
    return np.fft.rfftfreq(len(x), 1 / RATE), power


def a_power(f: np.ndarray) -> np.ndarray:
    """IEC 61672-1, annex E, written out here as the product of its poles on the complex plane."""
    s = 2j * np.pi * f
    w1, w2, w3, w4 = (2 * np.pi * p for p in (20.598997, 107.65265, 737.86223, 12194.217))
    h = s**4 / ((s + w1) ** 2 * (s + w2) * (s + w3) * (s + w4) ** 2)
    s0 = 2j * np.pi * 1000.0
    h0 = s0**4 / ((s0 + w1) ** 2 * (s0 + w2) * (s0 + w3) * (s0 + w4) ** 2)
    return np.abs(h / h0) ** 2


def a_level_db(x: np.ndarray) -> float:
    f = np.fft.rfftfreq(len(x), 1 / RATE)
    power = np.abs(np.fft.rfft(x)) ** 2
    return 10 * np.log10(2 * np.sum(power * a_power(f)) / len(x) ** 2)


def beats_per_s(x: np.ndarray) -> float:
    """Rhythm from the strongest line of the envelope's spectrum, 1 to 20 Hz."""
    envelope = np.convolve(np.abs(x), np.ones(480) / 480, "same")
    lines = np.abs(np.fft.rfft((envelope - envelope.mean()) * np.hanning(len(x)), 8 * len(x)))
    f = np.fft.rfftfreq(8 * len(x), 1 / RATE)
    inside = (f > 1) & (f < 20)
    return float(f[inside][np.argmax(lines[inside])])


def test_the_toes_cue_is_e6_and_the_trail_cue_is_a3() -> None:
    f, power = spectrum(play(awake(), 4, 1, 0))
    assert f[np.argmax(power)] == pytest.approx(E6_HZ, abs=0.5)
    f, power = spectrum(play(awake(), 4, 0, 1))
    for harmonic in (220.0, 440.0, 660.0, 880.0):
        near = np.abs(f - harmonic) < 30
        assert f[near][np.argmax(power[near])] == pytest.approx(harmonic, abs=0.5)


@pytest.mark.parametrize("size", [0.05, 0.5, 1.0])
def test_the_cues_are_told_apart_by_pitch_region_alone(size: float) -> None:
    f, toes = spectrum(play(awake(), 3, size, 0))
    _, trail = spectrum(play(awake(), 3, 0, size))
    assert toes[f > 1000].sum() > 0.9999 * toes.sum()
    assert trail[f < 1000].sum() > 0.9999 * trail.sum()


@pytest.mark.parametrize(("size", "toes_rate", "trail_rate"), [(0.0001, 7.0, 2.2), (0.5, 8.0, 2.5), (1.0, 9.0, 2.8)])
def test_the_cues_are_told_apart_by_rhythm_alone(size: float, toes_rate: float, trail_rate: float) -> None:
    assert beats_per_s(play(awake(), 5, size, 0)) == pytest.approx(toes_rate, abs=0.05)
    assert beats_per_s(play(awake(), 5, 0, size)) == pytest.approx(trail_rate, abs=0.05)


def test_harmonics_carry_the_trail_cue_on_a_speaker_that_starts_at_400_hz() -> None:
    f, power = spectrum(play(awake(), 3, 0, 1))
    weighted = power * a_power(f)
    assert weighted[f > 400].sum() > 0.9 * weighted.sum()


@pytest.mark.parametrize("size", [0.1, 0.5, 1.0])
def test_both_cues_are_equally_loud_at_equal_size(size: float) -> None:
    assert a_level_db(play(awake(), 10, size, 0)) == pytest.approx(a_level_db(play(awake(), 10, 0, size)), abs=1.5)


@pytest.mark.parametrize("which", [(1, 0), (0, 1)])
def test_equal_steps_of_size_are_equal_steps_in_decibels(which: tuple[int, int]) -> None:
    levels = [a_level_db(play(awake(), 10, s * which[0], s * which[1])) for s in (0.2, 0.4, 0.6, 0.8, 1.0)]
    # 18 dB over the whole range: 3.6 dB a step of 0.2; ramps of fixed length in quicker beats cost a little.
    assert np.diff(levels) == pytest.approx([3.6] * 4, abs=0.15)


def test_a_cue_starts_with_a_beat_at_once() -> None:
    x = play(awake(), 0.1, 1, 0)
    assert np.max(np.abs(x[:480])) > 0.9 * np.max(np.abs(x))


def excess_step(x: np.ndarray, highest_hz: float) -> float:
    """The largest step between samples beyond a sine's own of the same peak, relative to the peak, dB."""
    peak = np.max(np.abs(x))
    own = peak * 2 * np.sin(np.pi * highest_hz / RATE)
    return float(20 * np.log10(max(np.max(np.abs(np.diff(x))) - own, 1e-12) / peak))


def test_nothing_clicks_when_sizes_jump_at_any_moment() -> None:
    random = np.random.default_rng(7)
    for which, highest_hz in (((1, 0), E6_HZ), ((0, 1), 880.0)):
        synth = awake()
        blocks = []
        for _ in range(400):
            size = float(random.choice([0.0, 0.1, 1.0, np.nan]))
            synth.heartbeat()
            synth.set_cues({"toes": size * which[0], "trail side": size * which[1]})
            blocks.append(synth.render(int(random.integers(1, 1500))))
        x = np.concatenate(blocks).astype(float)
        assert np.max(np.abs(x)) > 0.1
        assert excess_step(x, highest_hz) < -40.0
        # A click is also wide-band: nothing may be left over, far from the voice (8 kHz and above).
        f, power = spectrum(x)
        assert power[f > 8000].sum() < 1e-6 * power.sum()


@pytest.mark.parametrize("name", ["tick", "ready", "lost", "found"])
def test_signals_start_and_end_at_nothing(name: str) -> None:
    synth = unwatched()
    synth.signal(name)
    x = synth.render(RATE).astype(float)
    assert np.max(np.abs(x)) > 0.03
    assert excess_step(np.concatenate([[0.0], x]), 1760.0) < -40.0
    assert np.all(x[-100:] == 0.0)


def test_the_tick_is_soft_short_and_lower_than_a_beep() -> None:
    synth = unwatched()
    synth.signal("tick")
    x = synth.render(RATE).astype(float)
    assert np.flatnonzero(x)[-1] < 0.04 * RATE
    assert np.max(np.abs(x)) < 0.5 * np.max(np.abs(play(awake(), 1, 1, 0)))
    f, power = spectrum(x[:4800])
    assert power[f < 1200].sum() > 0.99 * power.sum()


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True),
            st.floats(allow_nan=True, allow_infinity=True),
            st.sampled_from([None, "tick", "ready", "lost", "found"]),
            st.integers(1, 20000),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_no_order_of_calls_passes_the_ceiling(calls: list[tuple[float, float, str | None, int]]) -> None:
    synth = awake()
    for toes, trail, name, n in calls:
        synth.heartbeat()
        synth.set_cues({"toes": toes, "trail side": trail})
        if name is not None:
            synth.signal(name)
        x = synth.render(n)
        assert np.all(np.abs(x) <= np.float32(CEILING))


def test_the_loudest_moment_uses_the_ceiling_without_being_cut() -> None:
    synth = awake()
    peak = 0.0
    for i in range(1000):
        if i % 40 == 0:
            synth.signal("ready")
        x = play(synth, 0.01, 1, 1)
        peak = max(peak, float(np.max(np.abs(x))))
    assert 0.8 * CEILING < peak < CEILING - HALF_STEP  # a sum that had been cut would sit at the ceiling itself


def test_level_scales_everything() -> None:
    loud, soft = play(awake(1.0), 0.5, 1, 1), play(awake(0.25), 0.5, 1, 1)
    assert np.max(np.abs(soft - 0.25 * loud)) < 1e-7
    assert np.max(np.abs(loud)) > 0.2


def test_a_session_starts_softly() -> None:
    synth = Synth()
    x = play(synth, 3, 1, 0)
    steady = np.max(np.abs(x[round(2.1 * RATE) :]))
    first = np.max(np.abs(x[: round(0.1 * RATE)]))
    middle = np.max(np.abs(x[round(0.95 * RATE) : round(1.05 * RATE)]))
    assert 20 * np.log10(first / steady) == pytest.approx(-19.5, abs=0.6)
    assert 20 * np.log10(middle / steady) == pytest.approx(-10.0, abs=0.6)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 0.0, -3.0])
def test_what_is_not_a_size_is_silence(bad: float) -> None:
    assert np.all(play(awake(), 0.3, bad, bad) == 0.0)


def test_a_size_over_one_sounds_like_one() -> None:
    assert np.array_equal(play(awake(), 0.3, 50.0, 0), play(awake(), 0.3, 1.0, 0))


def test_the_length_of_the_blocks_does_not_matter() -> None:
    def run(blocks: list[int]) -> np.ndarray:
        synth = awake()
        synth.set_cues({"toes": 0.7, "trail side": 0.4})
        synth.signal("tick")
        return np.concatenate([synth.render(n) for n in blocks])

    assert np.max(np.abs(run([1, 7, 480, 512, 9000, 14000]) - run([24000]))) < 1e-6


def test_no_tone_before_the_first_good_frame() -> None:
    synth = Synth()
    synth.set_cues({"toes": 1, "trail side": 1})
    assert np.all(synth.render(RATE) == 0.0)
    assert not synth.lost


@pytest.mark.parametrize("block", [37, 480, 1024, 4800])
def test_silence_within_250_ms_and_lost_said_once(block: int) -> None:
    synth = awake()
    synth.set_cues({"toes": 1, "trail side": 1})
    x = np.concatenate([synth.render(block) for _ in range(3 * RATE // block + 1)]).astype(float)
    limit = round(0.250 * RATE)
    assert np.max(np.abs(x[limit - 4800 : limit])) > 0.1
    # The cues are gone when the patience ends: what remains is "lost" as a fresh synthesiser plays it, from there.
    other = unwatched()
    other.signal("lost")
    lost = other.render(3 * RATE - limit).astype(float)
    assert np.max(np.abs(x[limit : 3 * RATE] - lost)) < 1e-7
    assert np.max(np.abs(lost)) > 0.1
    assert synth.lost


def test_frames_every_249_ms_keep_the_tone_and_251_ms_do_not() -> None:
    for gap_ms, expected in ((249, False), (251, True)):
        synth = awake()
        for _ in range(4):
            synth.heartbeat()
            synth.set_cues({"toes": 1})
            synth.render(gap_ms * 48)
        assert synth.lost is expected


def test_found_sounds_once_and_the_cue_returns_only_when_it_is_set_again() -> None:
    synth = awake()
    synth.set_cues({"toes": 1})
    synth.render(3 * RATE)
    synth.set_cues({"toes": 1})  # without a frame this is stale
    assert np.all(synth.render(4800) == 0.0)
    synth.heartbeat()
    heard = synth.render(10000).astype(float)
    other = unwatched()
    other.signal("found")
    assert np.max(np.abs(heard - other.render(10000))) < 1e-7
    assert np.max(np.abs(play(synth, 0.5, 0, 0))[12000:]) == 0.0
    assert np.max(np.abs(play(synth, 0.5, 1, 0))) > 0.1


def test_rest_is_silence_without_lost_and_the_watch_starts_again_with_a_frame() -> None:
    synth = awake()
    play(synth, 0.3, 1, 1)
    synth.signal("ready")
    synth.rest()
    x = synth.render(2 * RATE)
    assert np.all(x[480:] == 0.0)
    assert synth.silent
    assert not synth.lost
    synth.heartbeat()
    assert np.all(synth.render(11999) == 0.0)
    assert np.max(np.abs(synth.render(4800))) > 0.05
    assert synth.lost


def test_news_about_the_mat_comes_before_signals_that_wait() -> None:
    synth = awake()
    for _ in range(9):
        synth.signal("ready")
    x = synth.render(round(0.25 * RATE) + 2 * RATE)
    # "ready" lasts 0.54 s and has begun; "lost" (0.95 s) follows it directly and the rest is dropped.
    assert np.flatnonzero(x)[-1] == pytest.approx(round((0.54 + 0.95) * RATE), abs=3)


def test_unknown_signals_and_impossible_levels_are_refused() -> None:
    with pytest.raises(ToneError, match="no signal 'gong'; there are tick, ready, rock, lost, found"):
        Synth().signal("gong")
    with pytest.raises(ToneError, match="from 0 to 1"):
        Synth(level=1.5)
    with pytest.raises(ToneError, match="too low"):
        Synth(rate_hz=4000)
