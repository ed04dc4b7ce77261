"""`groundtone practise` over a cable that is pulled and put in again: one session, one recording, and it is heard."""

import os
import time
from pathlib import Path

import numpy as np
from patience import until
from sound_in import RATE, is_lost_sound, read, stretches

from groundtone.record.reader import open_recording
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario


def test_a_cable_that_is_put_in_again_goes_on_in_the_same_recording(running, tmp_path):
    where, home = tmp_path / "mat", Path(os.environ["GROUNDTONE_HOME"])
    before = set(home.rglob("*.mcap"))
    with MatProcess(Scenario(MatSpec.reference(), Empty(60.0))) as process:
        where.symlink_to(process.port)
        listening = running(
            "practise", "--no-echo", "--port", where, "--rate", "50", "--seconds", "4.5", "--out", tmp_path
        )
        until(lambda: set(home.rglob("*.mcap")) - before)
        time.sleep(1.0)
        process.unplug()
        time.sleep(1.4)
        process.plug()
        other = tmp_path / "other"
        other.symlink_to(process.port)
        os.replace(other, where)  # noqa: PTH105 (a symbolic link is replaced in one step)
        said = listening.end()
    assert said.code == 0, said.err
    (path,) = set(home.rglob("*.mcap")) - before
    got = open_recording(path)
    told = [entry.table["what"] for entry in got.events]
    assert [what for what in told if what in ("lost", "found again")] == ["lost", "found again"]
    assert got.lost == []
    # The mat was not switched off: its clock ran on, in the file as live, and no frame is there twice.
    device_us = got.frames.device_us
    assert (np.diff(device_us) > 0).all()
    assert not len(got.frames.jumps)
    (pause,) = np.diff(device_us)[np.diff(device_us) > 1e6]
    assert 1.3e6 < pause < 5e6
    assert 4.4 < got.duration_s < 4.7
    samples = read(tmp_path / "tones.wav")
    (begin, _), (found, found_end) = stretches(samples)[:2]
    assert is_lost_sound(samples, begin)
    assert found_end - found < 0.8
    assert found - begin > 0.9
    assert len(samples) / RATE > found_end
