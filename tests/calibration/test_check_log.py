"""Checks on the disk: kept, read back, the newest of this very profile found, its correction applied."""

import errno
import math
import os

import numpy as np
import pytest

from groundtone.app.calibration.check_run import strip_sentences
from groundtone.calibration.checking.check_log import (
    KeptCheck,
    append_check,
    corrected,
    newest_for,
    read_checks,
    strip_trends,
)  # fmt: skip
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


def test_a_crack_that_grows_shows_beyond_its_place():
    """Two panels of 6 rows by 2 columns: column 1 of the right panel reads less and less from its row 3 on."""
    checks = []
    for day, less in enumerate((0.0, 0.06, 0.16)):
        factor = np.full((6, 4), 1.05)  # what all share is no strip's
        factor[3:, 3] *= 1 + less
        checks.append(kept(f"2026-01-0{day + 2}", verdict="ready with correction", factor=factor))
    trends = {(t.is_row, t.panel, t.number): t for t in strip_trends(checks)}
    assert len(trends) == 2 * (6 + 2)
    worst = min(trends.values(), key=lambda t: t.step)
    assert worst is trends[False, 1, 1]
    assert (worst.beyond, worst.step) == (3, pytest.approx(-math.log(1.16)))
    assert worst.changes == pytest.approx((0.0, -math.log(1.06) / 2, -math.log(1.16) / 2))
    said = strip_sentences(checks)
    assert said[0].startswith("The right panel's column 1 reads 14 % less from its row 3 on: a crack may be coming")
    assert "(+0, -3, -7 %)" in said[0]
    assert not any("left panel" in sentence for sentence in said)
    assert strip_sentences([checks[0]]) == ["No strip comes to read less than the others."]
    assert strip_sentences([kept()]) == []


def test_a_rows_tail_is_at_the_outer_side_and_a_worn_film_drifts_whole():
    factor = np.ones((6, 4))
    factor[2, 2:] = 1.3, 1.0  # the right panel's tail is at its right: its first column lies beyond
    factor[:, 0] = 1.12
    newest = kept(verdict="ready with correction", factor=factor)
    trends = {(t.is_row, t.panel, t.number): t for t in strip_trends([kept(), newest])}
    assert (trends[True, 1, 2].beyond, trends[True, 1, 2].step) == (0, pytest.approx(-math.log(1.3)))
    assert trends[False, 0, 0].changes == pytest.approx((0.0, -math.log(1.12)))
    assert trends[False, 0, 0].step == 0.0
    said = strip_sentences([kept(), newest])
    assert any(s == "The left panel's column 0 reads less from check to check (+0, -11 %): look at its film and its "
               "tail." for s in said)  # fmt: skip
    # A cell that is filled from its neighbours says nothing of its strip.
    blind = kept(verdict="ready with correction", factor=factor, filled=((2, 2),))
    assert {(t.is_row, t.panel, t.number): t for t in strip_trends([blind])}[True, 1, 2].step == 0.0
