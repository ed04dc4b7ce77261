"""Checks on the disk: kept, read back, the newest of this very profile found, its correction applied."""

import errno
import math
import os

import numpy as np
import pytest

from groundtone.calibration.checking.check_log import KeptCheck, append_check, corrected, newest_for, read_checks
from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.profile import Profile
from groundtone.errors import ProfileError

FILM = Film(Curves(np.log([[30.0, 40.0], [50.0, 40.0]]), 1.1, 0.0, -1.5, 1.5), dead=((0, 0),))
PROFILE = Profile("mat", "small", "abcd", "2026-01-01", (), 0.02, FILM)
FACTOR = np.array([[1.0, 1.1], [0.9, 1.2]])


def kept(date="2026-01-02", verdict="ready", uid="mat", profile="2026-01-01", **more):
    found = date, uid, verdict, 0.02, (), ((1, 1),), ((0, 1),), 0.004, 0.03, 2.5
    return KeptCheck(*found, profile, ("a sentence",), 78.4, "left", **more)


def test_what_goes_in_comes_out(tmp_path):
    path = tmp_path / "deep" / "checks"
    first = kept(verdict="ready with correction", filled=((1, 0),), factor=FACTOR, level_u=np.full((2, 2), 0.03))
    nothing = "2026-01-03", "mat", "not fit", math.nan, (), (), (), math.nan, math.nan, math.nan
    second = KeptCheck(*nothing, "2026-01-01", ())
    for each in (first, second):
        append_check(path, each)
    back = read_checks(path)
    assert back[0] == first
    np.testing.assert_allclose(back[0].factor, FACTOR)
    np.testing.assert_allclose(back[0].level_u, 0.03)
    assert back[1].factor is None
    assert back[1].not_fit
    assert not back[0].not_fit
    assert math.isnan(back[1].common)
    assert math.isnan(back[1].mass_kg)
    assert read_checks(tmp_path / "none") == []


def test_the_newest_of_this_very_profile():
    other = kept("2026-01-09", profile="2025-12-31")
    stranger = kept("2026-01-09", uid="another")
    newest = newest_for([kept("2026-01-02"), kept("2026-01-03"), other, stranger], PROFILE)
    assert newest.date == "2026-01-03"
    assert newest_for([other, stranger], PROFILE) is None


def test_a_correction_multiplies_every_force():
    film = corrected(FILM, kept(factor=FACTOR, filled=((1, 0),), level_u=np.full((2, 2), 0.03)))
    reading = np.full((2, 2), 150e-6)
    np.testing.assert_allclose(film.curves.force_n(reading), FILM.curves.force_n(reading) * FACTOR)
    assert film.dead == ((0, 0), (1, 0))
    assert corrected(FILM, kept()) is FILM
    with pytest.raises(ProfileError, match="another size"):
        corrected(FILM, kept(factor=np.ones((3, 2))))


def test_damaged_lines_are_left_out_and_half_a_line_is_closed(tmp_path):
    path = tmp_path / "checks"
    append_check(path, kept("2026-01-02"))
    whole = path.read_bytes()
    path.write_bytes(whole + whole[:-40] + b"\n" + whole.replace(b'"ready"', b'"fine"') + whole[:50])
    append_check(path, kept("2026-01-05"))
    assert [c.date for c in read_checks(path)] == ["2026-01-02", "2026-01-05"]
    bad = kept("2026-01-06", factor=FACTOR)
    append_check(path, bad)
    path.write_bytes(path.read_bytes().replace(b"0.9", b"-0.9"))
    assert [c.date for c in read_checks(path)] == ["2026-01-02", "2026-01-05"]


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "checks"
    append_check(path, kept())
    before = path.read_bytes()
    real, calls = os.write, []

    def write(fd, data):
        calls.append(len(data))
        if len(calls) > 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(fd, data[:10])

    monkeypatch.setattr("groundtone.calibration.checking.check_log.os.write", write)
    with pytest.raises(ProfileError, match="the disk is full"):
        append_check(path, kept("2026-01-03"))
    assert path.read_bytes() == before
