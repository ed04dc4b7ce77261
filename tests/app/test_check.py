"""`groundtone check` in use: verdicts and exit codes, what is kept, what practising makes of it, and bad input."""

import io
import json
import re
import shutil
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from rich.console import Console

from groundtone.app.calibration.check_run import CheckWish, _doubt_mass
from groundtone.app.twin import mat_of
from groundtone.calibration.checking.check_log import KeptCheck, append_check, newest_correction, read_checks
from groundtone.calibration.checking.check_result import Verdict
from groundtone.calibration.own_profile import checks_path
from groundtone.calibration.profile import read_profile
from groundtone.errors import CalibrationError
from groundtone.twin.scenario import Check, GolferSpec, Scenario

GOLFER = GolferSpec(mass_kg=78.4)


@pytest.fixture
def path(tmp_path, monkeypatch, request):
    """The example's profile, of the simulated starter mat 7."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "120")
    shutil.copy(request.config.rootpath / "calibration" / "example" / "mat.json", tmp_path / "mat.json")
    return tmp_path / "mat.json"


@pytest.fixture
def check(groundtone, path, tmp_path):
    """Runs a check on mat 7, changed as said: check(act, *arguments, aged_common=…)."""

    def run(act, *arguments, **changed):
        file = tmp_path / "scenario.json"
        file.write_text(Scenario(replace(mat_of(7, "starter-10x3"), **changed), act).to_json())
        return groundtone("check", "--twin", file, "--fast", "--profile", path, *arguments)

    return run


def test_a_good_mat_is_ready_and_the_check_is_kept(check, path):
    said = check(Check(GOLFER, seed=7), "--mass", "78.4", "--hand", "left")
    assert said.code == 0
    shown = [line.split(":")[0] for line in said.out.splitlines()[:6]]
    assert shown == ["keep off", "stand still", "rock slowly", "left foot up", "right foot up", "done"]
    assert said.out.splitlines()[-1].startswith("READY. Today the lead share is known within ±0.0")
    (kept,) = read_checks(path.with_name("mat.checks.jsonl"))
    assert (kept.verdict, kept.hand, kept.factor) == ("ready", "left", None)
    assert kept.mass_kg == pytest.approx(78.4, abs=1.0)
    assert kept.uid == "67746d0000000007"


def test_an_aged_mat_is_corrected_and_practising_uses_it(check, path):
    said = check(Check(GOLFER, seed=7), "--mass", "78.4", aged_common=-0.15)
    assert said.code == 1
    assert "The film reads 1" in said.out
    assert "READY WITH CORRECTION." in said.out
    profile = read_profile(path)
    today, told = newest_correction(profile, checks_path(path))
    assert "ready with correction, its correction is in force" in told[0]
    assert "corrected by the check of" in today.note
    # Where feet were, forces have grown by about what the film had lost.
    grown = np.exp(today.film.curves.level - profile.film.curves.level)
    assert np.median(grown) == pytest.approx(1 / 0.85, abs=0.06)


def test_a_mat_that_lost_too_much_is_not_fit(check, path):
    dead = tuple((row, column) for row in range(1, 9) for column in (0, 1))
    said = check(Check(GOLFER, seed=7), "--mass", "78.4", dead_cells=dead)
    assert said.code == 2
    assert "NOT FIT." in said.out
    assert "is dead under about" in said.out or "cells give nothing" in said.out
    assert read_checks(path.with_name("mat.checks.jsonl"))[0].not_fit


def test_a_foot_on_the_mat_is_sent_off(check):
    said = check(Check(GOLFER, seed=7, foot_left=True), "--mass", "78.4")
    assert said.code == 2
    assert "step off: Somebody stands on the mat" in said.out
    assert "step off for two seconds and begin again" in said.err


def test_a_person_of_another_mass_is_asked_about(check, path, monkeypatch):
    """A wrong mass looks like a film that has aged: only the person knows."""
    lighter = Check(GolferSpec(mass_kg=50.0), seed=7)
    said = check(lighter, "--mass", "60")
    assert said.code == 1
    assert "60.0 kg were stated, and by its calibration the mat says 5" in said.out
    assert "If 60.0 kg is not this person's mass, check again with the right one" in said.out
    # At a terminal it is a question, and "no" keeps nothing.
    monkeypatch.setattr("groundtone.app.calibration.check_run._somebody_answers", lambda console: True)
    wish = CheckWish(60.0, None, "left", None, None, path)
    result = SimpleNamespace(common=0.17, mass_kg=60.0, findings=(), verdict=Verdict.CORRECTED)
    for answer in (True, False):
        confirm = "groundtone.app.calibration.check_run.click.confirm"
        monkeypatch.setattr(confirm, lambda text, default=None, a=answer: a)
        if answer:
            _doubt_mass(Console(file=io.StringIO()), wish, result)
        else:
            with pytest.raises(CalibrationError, match="check again with the right mass"):
                _doubt_mass(Console(file=io.StringIO()), wish, result)


def test_ten_kilograms_on_the_marks(groundtone, path):
    """They go on lying there until the person has read what comes next, and are no person."""
    said = groundtone("check", "--twin", "7", "--layout", "starter-10x3", "--fast", "--profile", path, "--weight", "10")
    assert said.code == 0, said.out
    assert "Take the weight off. One foot on each panel" in said.out
    assert "READY." in said.out
    weighed = re.search(r"The person weighs (\S+) kg within (\d+) %", said.out)
    assert weighed is not None
    assert float(weighed[1]) == pytest.approx(78.4, rel=float(weighed[2]) / 100)
    assert float(weighed[2]) < 15


def test_the_history_shows_the_ageing(groundtone, path):
    for month in (2, 3):
        head = f"2026-0{month}-01T09:00:00", "67746d0000000007", "ready with correction"
        figures = 0.05 * month, ((4, 1),), (), (), 0.004, 0.03, 2.5
        append_check(path.with_name("mat.checks.jsonl"), KeptCheck(*head, *figures, "2026-01-01", (), 78.4, "left"))
    said = groundtone("check", "--history", "--profile", path)
    assert said.code == 0
    rows = [row for row in said.out.splitlines() if row.startswith("2026-")]
    assert [row.split()[2] for row in rows] == ["corrected", "corrected"]
    assert [row.split()[3] for row in rows] == ["····█···┊········", "···█····┊········"]
    assert [row.split()[4] for row in rows] == ["-9", "-13"]
    # Nothing is cut off on a terminal of 80 columns.
    assert "…" not in said.out
    assert max(len(line) for line in said.out.splitlines()) <= 80


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--mass", "172 lb"), "are 78.02 kg meant?"),
        (("--mass", "0"), "will not do here"),
        (("--weight", "-1"), "is not a mass"),
        (("--hand", "both"), "'both' is not one of"),
        (("--history",), "run groundtone check first"),
        (("--profile", "nowhere.json"), "calibrate the mat first"),
    ],
)
def test_bad_input(groundtone, path, arguments, says):
    said = groundtone("check", "--twin", "7", "--layout", "starter-10x3", "--fast", *arguments)
    assert said.code == 2
    assert says in " ".join(said.err.split())


def test_another_mats_profile(groundtone, path):
    other = groundtone("check", "--twin", "8", "--layout", "starter-10x3", "--fast", "--profile", path)
    assert other.code == 2
    assert "belongs to mat 67746d0000000007" in other.err


def test_what_practising_says_without_a_check_and_with_a_damaged_one(path):
    profile = read_profile(path)
    today, told = newest_correction(profile, checks_path(path))
    assert today is profile
    assert "was not checked since it was made" in told[0]
    path.with_name("mat.checks.jsonl").write_text("damaged\n")
    today, told = newest_correction(profile, checks_path(path))
    assert today is profile


@pytest.mark.parametrize("run", ["check", "standing"])
def test_ctrl_c_asks_nothing_and_keeps_nothing(groundtone, path, monkeypatch, run):
    """Whoever ends it is not asked for the hand, and what is typed then is the shell's."""

    def interrupted(self, item):
        if item.device_us - self.begin_us > 9e6:
            raise KeyboardInterrupt
        return False

    def asked(*given, **more):
        raise AssertionError("a question")

    monkeypatch.setattr("groundtone.app.mat.OpenMat.over", interrupted)
    monkeypatch.setattr("groundtone.app.calibration.check_run._somebody_answers", lambda console: True)
    monkeypatch.setattr("groundtone.app.calibration.check_run.click.prompt", asked)
    before = path.read_bytes()
    command = ("check",) if run == "check" else ("calibrate", "standing", "--mass", "78.4")
    said = groundtone(*command, "--twin", "7", "--layout", "starter-10x3", "--fast", "--profile", path)
    assert said.code == 2
    assert "was ended before it was done: " in said.err
    assert path.read_bytes() == before
    assert not checks_path(path).exists()


def test_a_new_board_in_an_old_mat_takes_the_profile_over_after_a_check(groundtone, check, path, tmp_path):
    home = tmp_path / "home" / "profiles"
    new = "00000000000000b2"
    refused = check(Check(GOLFER, seed=7), uid=new)
    assert refused.code == 2
    assert "--new-board" in refused.err
    said = check(Check(GOLFER, seed=7), "--mass", "78.4", "--new-board", uid=new)
    assert said.code == 0
    moved = read_profile(home / f"{new}.json")
    assert (moved.uid, moved.note.endswith("moved from board 67746d0000000007")) == (new, True)
    np.testing.assert_array_equal(moved.film.curves.level, read_profile(path).film.curves.level)
    (kept,) = read_checks(checks_path(home / f"{new}.json"))
    assert (kept.uid, kept.verdict) == (new, "ready")
    assert read_profile(path).uid == "67746d0000000007"
    again = groundtone("check", "--twin", tmp_path / "scenario.json", "--fast", "--new-board")
    assert "Name the old board's profile" in again.err


def test_a_mat_that_the_profile_does_not_fit_does_not_get_it(check, tmp_path):
    said = check(Check(GOLFER, seed=7), "--mass", "78.4", "--new-board", uid="00000000000000b3", aged_each=0.9)
    assert said.code == 2
    assert "it has not moved" in said.out
    told = check(
        Check(GOLFER, seed=7), "--mass", "78.4", "--hand", "right", "--new-board", "--json-lines",
        uid="00000000000000b3", aged_each=0.9,
    )  # fmt: skip
    last = json.loads(told.out.splitlines()[-1])
    assert (last["result"], last["exit"], last["hand"]) == ("not fit", 2, "right")
    assert not list((tmp_path / "home" / "profiles").glob("00000000000000b3*"))
