"""The run's file: what was taken is there after a stop, a crash, a torn line and a full disk."""

import errno
import json
import math
import os

import numpy as np
import pytest

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.guided.run_log import RunHead, RunLog, read_run
from groundtone.calibration.guided.worklist import Step
from groundtone.errors import CalibrationError

SHAPE = (3, 4)
PLAN = (Step((0, 1), 49.0, "5 kg"), Step((2, 3), 196.1, "20 kg", True, 0.01))
HEAD = RunHead("0123456789abcdef", "small", "abcd", "2026-01-01", SHAPE, (("5 kg", 49.0, 0.003),), PLAN, "note")


def placement(number=1, falling=False):
    rng = np.random.default_rng(number)
    grid = rng.uniform(0, 3e-4, SHAPE)
    return Placement(
        0, 1, 49.0333 * number, grid, slice(3, 5), falling, math.nan if falling else 0.031,
        mass_u=0.003, peak_n=200.0 if falling else math.nan, peak_s=3.3, t_s=12.5, after_s=1.5,
        before_s=grid / 100, reading_u=0.0007,
    )  # fmt: skip


def begun(path, count=0):
    log = RunLog(path, HEAD)
    for number in range(1, count + 1):
        assert log.placement(placement(number, falling=number == 2))
    return log


def test_what_goes_in_comes_out(tmp_path):
    path = tmp_path / "deep" / "mat.run.jsonl"
    log = begun(path, 3)
    assert log.remark("row 1 is noisy")
    assert log.finish()
    log.close()
    run = read_run(path)
    assert run.head == HEAD
    assert run.remarks == ("row 1 is noisy",)
    assert run.finished
    assert run.damaged == 0
    for number, got in enumerate(run.placements, start=1):
        want = placement(number, falling=number == 2)
        assert (got.row, got.column, got.falling) == (want.row, want.column, want.falling)
        np.testing.assert_allclose(got.conductance_s, want.conductance_s, atol=0.6e-9)
        np.testing.assert_allclose(got.before_s, want.before_s, atol=0.6e-9)
        for name in ("force_n", "drift", "mass_u", "peak_n", "peak_s", "t_s", "after_s", "reading_u"):
            assert getattr(got, name) == pytest.approx(getattr(want, name), rel=1e-6, nan_ok=True)


def test_a_lift_belongs_to_the_newest_placement(tmp_path):
    path = tmp_path / "run"
    log = begun(path, 2)
    assert log.lifted(17.25)
    assert log.placement(placement(3))
    log.close()
    lifted = [got.lifted_s for got in read_run(path).placements]
    np.testing.assert_array_equal(lifted, [np.nan, 17.25, np.nan])


def test_every_placement_is_on_the_disk_when_the_call_comes_back(tmp_path):
    path = tmp_path / "run"
    log = begun(path)
    for number in range(1, 4):
        log.placement(placement(number))
        assert len(read_run(path).placements) == number  # read by another handle, nothing closed
    log.close()


def test_cut_at_any_byte_only_the_torn_line_is_missing(tmp_path):
    path = tmp_path / "run"
    begun(path, 2).close()
    whole = path.read_bytes()
    ends = [i + 1 for i, byte in enumerate(whole) if byte == 10]
    for cut in range(ends[0], len(whole) + 1):
        path.write_bytes(whole[:cut])
        complete = sum(end <= cut for end in ends) - 1
        kept = len(read_run(path).placements)
        # A line without its end may be whole all the same.
        assert kept in (complete, complete + (cut + 1 in ends))


def test_going_on_after_a_torn_line_begins_a_new_one(tmp_path):
    path = tmp_path / "run"
    begun(path, 2).close()
    path.write_bytes(path.read_bytes()[:-30])
    log = RunLog(path)
    log.placement(placement(3))
    log.close()
    run = read_run(path)
    assert [round(p.force_n / 49.0333) for p in run.placements] == [1, 3]
    assert run.damaged == 0


def test_damaged_lines_are_left_out_and_counted(tmp_path):
    path = tmp_path / "run"
    begun(path, 3).close()
    lines = path.read_bytes().splitlines()
    lines[2] = lines[2].replace(b'"cell"', b'"c\xff')
    bad = json.loads(lines[3])
    bad["placement"]["uS"] = bad["placement"]["uS"][:-1]
    lines[3] = json.dumps(bad).encode()
    path.write_bytes(b"\n".join(lines) + b"\n")
    run = read_run(path)
    assert len(run.placements) == 1
    assert run.damaged == 2


def test_taken_back(tmp_path):
    path = tmp_path / "run"
    log = begun(path, 2)
    log.take_back()
    log.placement(placement(5))
    log.close()
    assert [round(p.force_n / 49.0333) for p in read_run(path).placements] == [1, 5]


def test_a_full_disk_loses_nothing_and_is_made_up_for(tmp_path, monkeypatch):
    path = tmp_path / "run"
    log = begun(path, 1)
    real, room = os.write, [700]

    def write(fd, data):
        """A disk with so many bytes left: it takes a part, then none."""
        if room[0] <= 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        data = data[: room[0]]
        room[0] -= len(data)
        return real(fd, data)

    monkeypatch.setattr("groundtone.calibration.guided.run_log.os.write", write)
    kept = [log.placement(placement(number)) for number in (2, 3, 4)]
    assert kept[-1] is False
    assert log.waiting == 3 - sum(kept)
    assert "No space left on device" in log.trouble
    assert "make room on the disk" in log.trouble
    assert len(read_run(path).placements) == 1 + sum(kept)
    assert read_run(path).damaged == 0
    room[0] = 10**9
    assert log.placement(placement(5))
    assert log.trouble == ""
    log.close()
    assert [round(p.force_n / 49.0333) for p in read_run(path).placements] == [1, 2, 3, 4, 5]


def test_a_disk_that_is_full_from_the_first_line(tmp_path, monkeypatch):
    def write(fd, data):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("groundtone.calibration.guided.run_log.os.write", write)
    with pytest.raises(CalibrationError, match="No space left on device"):
        RunLog(tmp_path / "run", HEAD)
    assert list(tmp_path.iterdir()) == []


def test_a_new_run_never_replaces_what_is_there(tmp_path):
    path = tmp_path / "run"
    path.write_bytes(b"something else")
    with pytest.raises(CalibrationError, match="is there already"):
        RunLog(path, HEAD)
    assert path.read_bytes() == b"something else"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is not a bench run"),
        (b"hello\n", "is not a bench run"),
        (b'{"groundtone profile": 2}\n', "is not a bench run"),
        (b'{"groundtone bench run": 99}\n', "another version"),
        (b'{"groundtone bench run": 1}\n', "lacks its beginning"),
    ],
)
def test_other_files_are_refused_with_a_remedy(tmp_path, content, says):
    path = tmp_path / "run"
    path.write_bytes(content)
    with pytest.raises(CalibrationError, match=says):
        read_run(path)


def test_missing_files_and_folders_that_cannot_be_made(tmp_path):
    with pytest.raises(CalibrationError, match="cannot be read"):
        read_run(tmp_path / "no")
    with pytest.raises(CalibrationError, match=r"no run .* to go on with"):
        RunLog(tmp_path / "no")
    (tmp_path / "file").write_text("")
    with pytest.raises(CalibrationError, match="cannot be written"):
        RunLog(tmp_path / "file" / "run", HEAD)
