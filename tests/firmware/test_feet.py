"""The feet message: built on the board as the vectors say, and sent by a mat that was given what it needs."""

import json
import struct
from pathlib import Path

import beside_host
import numpy as np
import pytest
from at_the_line import Host
from test_onmat_line import send

from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Scenario

START, STOP, START_FEET = 2, 3, 17
VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "feet.json").read_text())
BUILT = """
import json
from array import array
from mat import wire
from mat.alone import feet
class Forces: pass
class Meter: cells = 128
meter = Meter()
meter.forces = Forces()
for v in json.loads(open("feet.json").read()):
    m = v["message"]
    def foot(force, u, v):
        u = 0x1FFFFFFF if u == 65535 else u
        return [force * 4, 0, 0, 0, u, 0x1FFFFFFF if v == 255 else v * 4, 0, 0]
    left = foot(m["left_force"], m["left_u"], m["left_v"])
    right = foot(m["right_force"], m["right_u"], m["right_v"])
    meter.forces.feet = array("i", left + right)
    meter.forces.plan = array("i", [0] * 7 + [1 if m["flags"] & 16 else 0])
    meter.frame = lambda values, odd, known=not m["flags"] & 32: known
    frame = feet.Frame(meter)
    frame.message[1] = m["flags"] & 15
    frame.message[2:8] = bytes((m["seq"] & 255, m["seq"] >> 8)) + bytes((m["t_us"] >> 8 * k & 255) for k in range(4))
    frame.fill(None)
    print(bytes(frame.message).hex())
"""


def test_they_are_built_as_the_vectors_say(mpy, tmp_path):
    (tmp_path / "feet.json").write_text(json.dumps(VECTORS))
    assert mpy(BUILT).split() == [v["hex"] for v in VECTORS]


@pytest.fixture
def standing():
    """A mat of the twin with a golfer who steps on, the session of the same golfer, and its host."""
    session = beside_host.played("ordinary", 14, 900)
    with MatProcess(Scenario(session.mat, session.act), fast=True) as process:
        host = Host(process.port)
        yield session, process, host
        host.serial.close()


def test_a_mat_with_nothing_on_it_refuses_and_sends_frames_as_before(standing):
    _, process, host = standing
    status, text = host.ask(START_FEET, struct.pack("<H", 100))
    assert status == 10
    assert b"groundtone to-mat" in text
    assert host.ask(START, struct.pack("<H", 100))[0] == 0
    process.allow(4)
    assert len(host.frame().cells) == 128


def test_it_sends_what_the_host_makes_of_the_same_frames(standing):
    session, process, host = standing
    film = beside_host.film_for(session)
    assert send(host, beside_host.sent(session, film))[0] == 0
    assert host.ask(START_FEET, struct.pack("<H", 101))[0] == 3
    assert host.ask(START_FEET, struct.pack("<H", 100)) == (0, struct.pack("<I", 10_000))
    assert host.ask(START_FEET, struct.pack("<H", 100))[0] == 5
    process.allow(8)
    got = []
    for i in range(850):
        got.append(host.foot())
        if i % 4 == 3:
            process.allow(4)
    process.free()
    assert [each[1] for each in got] == list(range(850))
    assert got[0][0] == 8 | 32  # the first one, references missing
    assert got[2][0] == 0
    assert host.ask(STOP)[0] == 0
    # Another run of the twin, so another draw of its noise, and some scans later: what holds is what a golfer weighs.
    force = np.array([[each[3], each[6]] for each in got]) / 8
    weight = session.golfer.mass_kg * 9.81
    assert np.median(force[100:150].sum(1)) < 10
    assert np.median(force[500:].sum(1)) == pytest.approx(weight, rel=0.03)
    both = force[500:].min(1) > 100
    u = np.array([[each[4], each[7]] for each in got[500:]])[both] / 256
    assert ((u > 2) & (u < 14)).all()
    # And frames again, whole.
    assert host.ask(START, struct.pack("<H", 100))[0] == 0
    assert len(host.frame().cells) == 128


SCANS = """
from array import array
from mat.alone import feet, onmat
board = onmat.read(bytes.fromhex("UID"), "reference-16x4", "sent.bin").pressure
frame = feet.Frame(board)
values = array("H", bytes(2 * 130))
def run(n):
    while n:
        values[128] = 8200 if n & 1 else 8
        values[129] = 1990 if n & 1 else 14400
        frame.message[2] = n & 255
        frame.fill(values)
        n -= 1
import gc
def grown():
    before = gc.mem_alloc()
    run(2000)
    return gc.mem_alloc() - before
run(10)
gc.collect()
gc.disable()
print(grown())
"""


def test_two_thousand_of_them_allocate_nothing(mpy, tmp_path):
    session = beside_host.played("ordinary", 14, 300)
    (tmp_path / "sent.bin").write_bytes(beside_host.sent(session, beside_host.film_for(session)))
    assert mpy(SCANS.replace("UID", session.uid)).split() == ["0"]
