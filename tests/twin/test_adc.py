"""The converter: plain rounding without its wide codes, their width with them, its noise."""

import numpy as np

from groundtone.twin.adc import WIDE_CODES, convert, hum


def test_without_wide_codes_it_rounds_down():
    level = np.array([0.0, 0.99999 / 4096, 1.00001 / 4096, 0.5, 4095.9 / 4096, 1.2, -0.1])
    assert convert(level, 0.0, False).tolist() == [0, 0, 1, 2048, 4095, 4095, 0]


def test_four_codes_are_nine_steps_wide_and_the_ends_stay():
    ramp = (np.arange(4096 * 100) + 0.5) / (4096 * 100)
    codes = convert(ramp)
    width = np.bincount(codes, minlength=4096) / 100.0
    np.testing.assert_allclose(width[list(WIDE_CODES)], 9.0, atol=0.011)
    narrow = np.delete(width, WIDE_CODES)
    assert narrow.min() > 0.97
    assert narrow.max() < 1.01
    assert codes[0] == 0
    assert codes[-1] == 4095
    assert np.all(np.diff(codes.astype(int)) >= 0)
    # An input anywhere in the wide code's eight steps reads the same.
    middle = 2048 / 4096
    assert convert(np.array([middle])) == 2048


def test_noise_has_the_asked_rms():
    noise = 3.0 * np.random.default_rng(1).standard_normal(200_000)
    codes = convert(np.full(noise.shape, 0.3), noise, False).astype(float)
    # Rounding adds a twelfth of a step squared.
    assert abs(codes.std() - np.sqrt(9.0 + 1.0 / 12.0)) < 0.02
    assert abs(codes.mean() + 0.5 - 0.3 * 4096) < 0.03


def test_hum_has_its_size_and_its_rate():
    t = np.arange(0.0, 10.0, 1e-3)
    spectrum = np.abs(np.fft.rfft(hum(t, 6.0, 50.0, 3))) / (t.size / 2)
    assert np.flatnonzero(spectrum > 0.1).tolist() == [500, 1500]
    assert abs(spectrum[500] - 6.0) < 1e-6
    assert abs(spectrum[1500] - 2.0) < 1e-6
