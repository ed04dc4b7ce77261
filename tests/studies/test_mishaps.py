"""The studies of mishaps and of what stands beside ours, in small; and that they would see what goes wrong."""

import contextlib

import numpy as np
import pytest

from groundtone.engine.foot_to_ear import Measured
from groundtone.errors import GroundtoneError
from groundtone.record.recorder import Recorder
from studies import mishaps_disk as disk
from studies import mishaps_ends as ends
from studies import mishaps_load as load
from studies.beside import text as beside_text
from studies.beside import verdict
from studies.beside_parts import Beside, _flipped, text_line
from studies.mishaps import Tried, parts
from studies.mishaps import text as faults_text
from studies.wire import frames as random_frames

MACHINE = {"processor": "invented", "cores": 2, "system": "Linux", "python": "3.11"}


@pytest.mark.parametrize("one", [disk.full, disk.read_only, disk.slow, disk.clock_set])
def test_disks_and_clocks_that_fail_lose_nothing_that_was_written(one, tmp_path):
    for seed in range(3):
        folder = tmp_path / str(seed)
        folder.mkdir()
        assert one(seed, folder) == []


@pytest.mark.parametrize(
    "one", [ends.recording_killed, ends.recording_stopped, ends.library_killed, ends.library_stopped]
)
def test_processes_that_are_ended_lose_nothing_that_was_committed(one, tmp_path):
    assert one(1, tmp_path) == []


def test_a_second_program_at_the_same_mat_is_refused_and_takes_nothing_away(tmp_path):
    assert ends.two_programs(1, tmp_path) == []


def test_what_goes_wrong_is_seen(tmp_path, monkeypatch):
    for name in "abc":
        (tmp_path / name).mkdir()
    with monkeypatch.context() as patch:  # a recorder that does not say that the disk is full
        patch.setattr(Recorder, "trouble", property(lambda self: None))
        assert disk.full(1, tmp_path / "a")[0].startswith("it is not said what is wrong")
    with monkeypatch.context() as patch:  # one that looks at no clock
        patch.setattr(Recorder, "_look_at_clock", lambda self: None)
        assert "times and 0 are told" in disk.clock_set(2, tmp_path / "b")[0]
    with monkeypatch.context() as patch:  # one that counts nothing that it drops
        patch.setattr("groundtone.record.recorder.QUEUE", 500)
        patch.setattr(Recorder, "dropped", property(lambda self: 0, lambda self, value: None), raising=False)
        assert "came" in disk.slow(5, tmp_path / "c")[0]


def test_the_table_tells_losses():
    lines = [Tried("kill -9", "x", 200), Tried("SIGTERM", "y", 1000, ["seed 3: a frame is another"], "told")]
    said = faults_text(lines, ["two"], MACHINE, "2026-01-01")
    assert "| kill -9 | x | 200 | 200 | none |" in said
    assert said.endswith("The study was cut; not tried in this run: two.\n")
    assert "| SIGTERM | y; told | 1,000 | 999 | **1**; seed 3: a frame is another |" in said


def measured(frames: int, missed: int, late_ms: float = 50.0, unheard: int = 0, told: str | None = None) -> Measured:
    stages = {"total": np.full(60 - unheard, late_ms * 1e-3)}
    return Measured(stages, 60, unheard, frames, missed, 0, "", 10.0, "", 200, 100, (1.0, 1.0), told)


def test_beside_load_scans_that_never_came_and_late_tones_are_losses():
    assert load.judged(measured(5000, 0), 60.0)[0] == []
    assert load.judged(measured(4990, 10), 60.0)[0] == []  # a tenth of a step
    lost, _ = load.judged(measured(1855, 3204, 256.0, told="more is kept"), 60.0)
    assert lost[:38] == ["3,204 of 5,059 scans did not come"] * 38
    assert lost[38:] == ["95 % within 256 ms where 60 were asked"]
    assert len(load.judged(measured(5000, 0, unheard=2), 60.0)[0]) == 2


@pytest.mark.parametrize("processors", load.BESIDE)
def test_a_load_beside_which_nothing_was_measured_survived_nothing(processors, monkeypatch):
    def none(*_: object) -> Measured:
        raise GroundtoneError("The simulated mat gave no port within 30 s.")

    monkeypatch.setattr(load, "BESIDE", (processors,))
    monkeypatch.setattr(load, "missing_tools", list)
    monkeypatch.setattr(load.shutil, "which", lambda name: "/bin/true")
    monkeypatch.setattr(load, "_stressed", contextlib.nullcontext)
    monkeypatch.setattr(load, "measure", none)
    (line,) = parts(20, 1, 1)["beside load"]()
    assert (line.tried, line.survived, len(line.lost)) == (0, 0, 1)
    assert line.line().endswith("| 0 | 0 | **1**; not measured: The simulated mat gave no port within 30 s. |\n")


def test_the_document_says_where_ours_is_behind():
    rows = [
        Beside("a", "time", "us", "x", (2.0, 4.0, 3.0), (4.0, 8.0, 9.0)),
        Beside("b", "time", "us", "y", (3.0,), (1.0,)),
        Beside("c", "frames", "frames", "z", (0.0,), (17.0,)),
    ]
    assert [verdict(row) for row in rows] == ["ahead", "**behind**", "ahead"]
    said = beside_text(rows, MACHINE, ["the scan was not measured"], "2026-01-01")
    assert "| a | time, us | x | 2 / 3 / 4 | 4 / 8 / 9 | 2 / 2 / 3 | ahead |" in said
    assert "| b | time, us | y | 3 | 1 | 0.333 | **behind** |" in said
    assert "- b: time, beside y: ours takes 3 times as much." in said
    assert "- the scan was not measured" in said


def test_a_flipped_bit_in_text_is_a_wrong_frame_and_in_ours_none():
    from groundtone.wire.codec import decode
    from groundtone.wire.stream import line_bytes

    raw = random_frames(400)
    ours = [line_bytes(message) for message in raw]
    (wrong,), (wrong_text,) = _flipped(ours, [text_line(decode(message, 128, 14)) for message in raw], 300)
    assert (wrong, wrong_text > 60) == (0.0, True)
