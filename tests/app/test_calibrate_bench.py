"""`groundtone calibrate bench` in use: interruption, resume, loss of the mat, a full disk, bad weights."""

import contextlib
import errno
import itertools
import os
import shutil
from concurrent.futures import ThreadPoolExecutor

import matplotlib.image
import numpy as np
import pytest
from terminal import Terminal

from groundtone.app.calibration.bench_run import hands_for
from groundtone.app.mat import OpenMat, real_mat
from groundtone.app.twin import mat_of
from groundtone.calibration.guided.bench_plan import plan_bench
from groundtone.calibration.guided.run_log import read_run
from groundtone.calibration.guided.weight_sets import set_of_masses
from groundtone.calibration.profile import read_profile
from groundtone.errors import LinkError, LostError
from groundtone.link.base import Gap, Stamped
from groundtone.link.lasting_link import LastingLink
from groundtone.link.twin_link import TwinLink
from groundtone.mat.layout import layout_of
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.film import cell_curves
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Bench, Empty, MatSpec, Put, Scenario

STARTER = ("--layout", "starter-10x3", "--minutes", "9")  # every cell once
WEIGHTS = ("--mass", "2", "--mass", "5", "--mass", "20", "--weighed")


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path / "home"


@pytest.fixture
def terminal():
    opened = []

    def start(*arguments, **more):
        opened.append(Terminal(arguments, **more))
        return opened[-1]

    yield start
    for one in opened:
        one.close()


def relative(level):
    return level - np.median(level)


@pytest.fixture
def pressing(monkeypatch):
    """Presses keys at frames: pressing({100: "u", 120: "q"})."""

    def press(plan):
        frames = itertools.count()
        monkeypatch.setattr(
            "groundtone.app.calibration.bench_run.keys_for",
            lambda *_: contextlib.nullcontext(lambda: plan.get(next(frames), "")),
        )

    return press


def scenario(tmp_path, mat, hands, **more):
    """A file for --twin."""
    act = Bench(plan=tuple(hands), lead_in_s=4.0, on_s=3.2, off_s=0.8, hand_s=0.3, puck_mm=(32.0, 46.0), **more)
    path = tmp_path / "scenario.json"
    path.write_text(Scenario(mat, act).to_json())
    return path


def test_the_whole_run_gives_the_mats_own_gains(groundtone, home):
    more = ("--minutes", "11", "--map", home / "map.png")
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER[:2], *WEIGHTS, *more)
    assert said.code == 0
    picture = matplotlib.image.imread(home / "map.png")
    # 60 dots or more of one hue on paper.
    assert 0.003 < (picture[..., 2] - picture[..., 0] > 0.2).mean() < 0.1
    assert "minutes at 8 s each." in said.out  # the cost, before anything is asked for
    (path,) = (home / "profiles").glob("*.json")
    profile = read_profile(path)
    assert profile.note.startswith("simulated")
    assert profile.weights == ("2 kg", "5 kg", "20 kg")
    gain, exponent = cell_curves(mat_of(7, "starter-10x3"))
    # ln F at 100 µS of the twin's own curve, without the weights' and the panel's common part.
    g = 100e-6 / (1 - 100e-6 / 5e-3)
    true = relative(np.log(100.0) + np.log(g / gain) / exponent)
    assert np.abs(relative(profile.film.curves.level) - true).max() < 0.10
    run = read_run(path.with_suffix(".run.jsonl"))
    assert run.finished
    assert len(run.placements) == len(run.head.plan)


def test_a_kill_loses_nothing_that_was_taken(terminal, home):
    killed = terminal("calibrate", "bench", "--twin", "7", "--fast", *STARTER, *WEIGHTS)
    killed.until("12 taken")
    killed.process.kill()
    killed.process.wait()
    (path,) = (home / "profiles").glob("*.run.jsonl")
    assert len(read_run(path).placements) >= 12


@pytest.fixture
def example(tmp_path, request):
    """A copy of the example: the profile's path, its finished run beside it (simulated starter mat 7)."""
    for name in ("mat.json", "mat.run.jsonl"):
        shutil.copy(request.config.rootpath / "calibration" / "example" / name, tmp_path / name)
    return tmp_path / "mat.json"


def test_an_earlier_run_is_kept_when_another_begins(groundtone, home, example, pressing):
    pressing({420: "q"})
    before = example.with_name("mat.run.jsonl").read_bytes()
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER, *WEIGHTS, "--profile", example)
    assert said.code == 1
    assert "The earlier run was kept as" in said.out
    assert example.with_name("mat.run.jsonl.1").read_bytes() == before
    assert 8 <= len(read_run(example.with_name("mat.run.jsonl")).placements) < 15


def test_keys_take_back_skip_and_end(groundtone, home, pressing):
    # Frames of a tenth of a second: after four seconds a placement comes every three and a half.
    pressing({1: "u", 130: "u", 131: "s", 640: "q"})
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER, *WEIGHTS)
    assert said.code == 1
    assert "There is nothing to take back." in said.out
    assert "Taken back: row" in said.out
    assert "The cell is left out." in said.out
    (path,) = (home / "profiles").glob("*.run.jsonl")
    kept = read_run(path).placements
    assert len(kept) == path.read_text().count('{"placement"') - 1


def test_too_few_say_how_many_more(groundtone, home, pressing):
    pressing({150: "q"})
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER, *WEIGHTS)
    assert said.code == 2
    assert "needs at least 8" in said.err
    assert "next comes 2 kg on row" in said.err or "next comes 5 kg on row" in said.err
    assert "go on with groundtone calibrate bench --resume" in said.err
    assert not list((home / "profiles").glob("*[0-9].json"))


def test_a_full_disk_is_announced_and_loses_nothing(groundtone, home, monkeypatch, pressing):
    pressing({600: "q"})
    real, state = os.write, {"lines": 0}

    def write(fd, data):
        if data.startswith(b'{"placement"'):
            state["lines"] += 1
            if 5 <= state["lines"] < 8:
                raise OSError(errno.ENOSPC, "No space left on device")
        return real(fd, data)

    monkeypatch.setattr("groundtone.calibration.guided.run_log.os.write", write)
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER, *WEIGHTS)
    assert said.code == 1
    assert said.out.count("takes no more (No space left on device): make room on the disk") == 1
    assert "The disk takes the run again: nothing was lost." in said.out
    (path,) = (home / "profiles").glob("*.run.jsonl")
    run = read_run(path)
    assert run.damaged == 0
    assert f"\n{len(run.placements)} placements; with one load on a cell" in said.out
    assert len({(p.row, p.column) for p in run.placements}) == len(run.placements) > 10


def test_a_dead_cell_and_a_foot_while_taring(groundtone, home, tmp_path):
    spec = mat_of(7, "starter-10x3")
    spec = MatSpec.reference(**{**vars(spec), "dead_cells": ((4, 1),)})
    said = groundtone("calibrate", "bench", "--twin", scenario(tmp_path, spec, [Put((0, 0), 49.03)], foot_s=4.0),
                      "--fast", "--minutes", "9", *WEIGHTS)  # fmt: skip
    assert said.code == 1
    assert "Somebody stands on the mat" in said.out
    assert "Fault: Row 4, column 1 (left panel) is dead" in said.out
    (path,) = (home / "profiles").glob("*[0-9].json")
    assert read_profile(path).film.dead == ((4, 1),)
    (remark,) = read_run(path.with_suffix(".run.jsonl")).remarks
    assert remark.startswith("Row 4, column 1 (left panel) is dead")


class LosingLink(TwinLink):
    """The twin in this process, whose cable is pulled after so many frames."""

    def __init__(self, scenario, frames):
        super().__init__(scenario, fast=True)
        self._left = frames

    def frames(self, patience_s=0.05):
        yield from itertools.islice(super().frames(patience_s), self._left)
        raise LostError("the mat at /dev/ttyACM0 is gone: check its cable and power, and start again")


def test_the_cable_is_pulled_put_in_again_and_pulled_for_good(groundtone, home, tmp_path, monkeypatch):
    """The run goes on by itself, and in the end says how to go on another day."""
    plan = plan_bench(10, 6, set_of_masses((2.0, 5.0, 20.0), weighed=True).loads, most_minutes=35).steps
    links = []

    def link(steps):
        act = Bench(plan=hands_for(steps, True), lead_in_s=4.0, hand_s=0.3, puck_mm=(32.0, 46.0))
        links.append(LosingLink(Scenario(mat_of(7, "starter-10x3"), act), 500))
        return links[-1]

    def find(uid):
        if len(links) == 2:
            raise LinkError("no mat")
        return link(plan[6:])

    @contextlib.contextmanager
    def opened(port, **_):
        with ThreadPoolExecutor(1) as pool, LastingLink(link(plan), find, pool) as lasting:
            yield OpenMat(lasting, layout_of("starter-10x3"))

    monkeypatch.setattr("groundtone.app.calibration.bench_run.real_mat", opened)
    monkeypatch.setattr("groundtone.app.calibration.bench_run.sound_for", lambda fast: OfflinePlayer(Synth()))
    path = tmp_path / "mat.json"
    said = groundtone("calibrate", "bench", *WEIGHTS, "--profile", path, "--wait", "3")
    assert said.code == 3
    assert said.out.count("is gone: check its cable and power") == 2
    assert said.out.count("The mat is back.") == 1
    assert said.err.count("\n") == 1
    run = read_run(path.with_suffix(".run.jsonl"))
    kept = f"{len(run.placements)} placements are kept: plug it in and type groundtone calibrate bench --resume"
    assert kept in said.err
    # 25 s of frames each, 20 a second: four seconds of nothing, then one placement in three and a half.
    assert 10 <= len(run.placements) <= 13
    assert not path.exists()


def test_a_real_line_is_opened_again_after_it_was_lost(monkeypatch):
    """On the firmware: the same mat is found at its new port and sends frames."""
    with MatProcess(Scenario(mat_of(7, "starter-10x3"), Empty(60.0))) as process:
        ports = lambda: [(process.port, "board")] if process.port else []  # noqa: E731
        monkeypatch.setattr("groundtone.link.find.usb_ports", ports)
        with real_mat(None) as mat:
            mat.link.start(20)
            items = mat.link.frames()
            assert next(item for item in items if isinstance(item, Stamped))
            process.unplug()
            assert next(item for item in items if isinstance(item, Gap)).lost
            process.plug()
            assert not next(item for item in items if isinstance(item, Gap)).lost
            assert mat.link.hello.uid == "67746d0000000007"
            assert sum(1 for item in itertools.islice(items, 20) if isinstance(item, Stamped)) > 5


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--mass", "0"), "will not do here"),
        (("--mass", "-5"), "is not a mass"),
        (("--mass", "1000"), "will not do here"),
        (("--mass", "11 lb"), "are 4.99 kg meant?"),
        (("--mass", "22.05"), "which is meant?"),
        (("--mass", "heavy"), "is not a mass"),
        ((), "Name your weights"),
        (("--resume",), "no run"),
        (("--mass", "5", "--weights", "x.toml"), "not both"),
        (("--weights", "nowhere.toml"), "cannot be read"),
        (("--mass", "5", "--layout", "round"), "not known"),
        (("--mass", "5", "--twin", "nowhere.json"), "neither"),
    ],
)
def test_bad_input_is_refused_in_a_sentence(groundtone, home, arguments, says):
    twin = () if "--twin" in arguments else ("--twin", "1")
    said = groundtone("calibrate", "bench", *twin, "--fast", *arguments)
    assert said.code == 2
    assert says in " ".join((said.err + said.out).split())
    assert not home.exists() or not list(home.rglob("*.json*"))


def test_a_run_of_another_mat_is_refused(groundtone, home, example):
    run = example.with_name("mat.run.jsonl")
    run.write_text("".join(run.read_text().splitlines(keepends=True)[:20]))
    said = groundtone("calibrate", "bench", "--twin", "8", "--fast", *STARTER, "--resume", "--profile", example)
    assert said.code == 2
    assert "belongs to mat 67746d0000000007" in said.err


def test_of_a_strip_that_was_replaced_its_cells_are_taken_again_and_no_others(groundtone, home, example):
    """The twin's mat 7 with another film: only the new strip's cells tell of it."""
    run, before = read_run(example.with_name("mat.run.jsonl")), read_profile(example)
    said = groundtone(
        "calibrate", "bench", "--twin", "7", "--fast", *STARTER[:2], "--strip", "left", "1", "--profile", example
    )
    assert said.code == 0, said.err
    again, after = read_run(example.with_name("mat.run.jsonl")), read_profile(example)
    kept = [p for p in run.placements if p.column != 1]
    assert [(p.row, p.column, p.force_n) for p in again.placements[: len(kept)]] == [
        (p.row, p.column, p.force_n) for p in kept
    ]
    assert {p.column for p in again.placements[len(kept) :]} == {1}
    assert len(again.placements) == len(run.placements)
    assert np.abs(np.delete(after.film.curves.level - before.film.curves.level, 1, axis=1)).max() < 0.03
    aside = example.with_name("mat.run.jsonl.1")
    assert aside.exists()
    assert f"The earlier run was kept as {aside}." in said.out


@pytest.mark.parametrize(("arguments", "says"), [(("left", "3"), "has no strip 3"), (("middle", "1"), "middle")])
def test_strips_that_are_none(groundtone, home, example, arguments, says):
    said = groundtone(
        "calibrate", "bench", "--twin", "7", "--fast", *STARTER[:2], "--strip", *arguments, "--profile", example
    )
    assert said.code == 2
    assert says in said.err


def test_a_strip_without_the_run_of_the_other_cells(groundtone, home):
    said = groundtone("calibrate", "bench", "--twin", "7", "--fast", *STARTER[:2], "--strip", "left", "1")
    assert said.code == 2
    assert "calibrate the whole mat" in said.err
