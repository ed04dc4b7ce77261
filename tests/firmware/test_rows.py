"""Rows joined or held low: nothing is driven, the mat says so, and comes back when it is dry."""

import struct

import pytest
from at_the_line import Host
from patience import until

from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

HIGH = "3"


def states(log):
    return [line.split() for line in log.read_text().splitlines()]


def test_the_proof_holds_one_row_low_at_a_time_and_drives_none_high(mat, tmp_path):
    log = tmp_path / "probes"
    _, host = mat({"log": str(log)})
    assert host.ask(1)[1][20] == 0  # state: ready
    asked = states(log)
    assert all(ref == "0" for *_, ref in asked)
    assert asked[0][:16] == ["1"] * 16
    assert asked[1][:16] == ["4"] * 16  # weak pull-downs bring every row low
    held = []
    for rows in (line[:16] for line in asked[2:] if line[:16] != ["4"] * 16 and line[:16] != ["1"] * 16):
        assert sorted(rows) == ["1"] * 15 + ["2"]
        held.append(rows.index("2"))
    assert sorted(set(held)) == list(range(15))  # the last one would have nobody left to test


def test_joined_rows_stay_inputs_and_start_is_refused(mat, tmp_path):
    log = tmp_path / "probes"
    process, host = mat({"log": str(log), "joined": [[3, 4], [9, 14]]})
    code, text = host.event()
    assert code == 2
    assert text == "Rows 3 and 4, 9 and 14 are joined: look for a short, torn film or water."
    assert host.ask(1)[1][20] == 2
    assert host.ask(2, struct.pack("<H", 100)) == (6, text.encode())
    status, payload = host.ask(6)
    findings = [struct.unpack_from("<BBBH", payload, 1 + 5 * i) for i in range(payload[0])]
    assert status == 0
    assert findings[:2] == [(1, 3, 4, 0), (1, 9, 14, 0)]
    assert [f[0] for f in findings] == [1, 1, 17]
    assert not any(HIGH in line for line in states(log))
    process.free()
    asked = len(states(log))
    until(lambda: len(states(log)) >= asked + 2 * 17)  # two proofs more, a second apart
    host.device_us()
    assert host.events == []  # the same fault is not told again and again


def test_it_tries_once_a_second_and_tells_when_the_fault_has_gone(mat, tmp_path):
    log = tmp_path / "probes"
    process, host = mat({"log": str(log), "low": [0, 7], "mended_us": 2_500_000})
    process.free()  # by the mat's own clock: on a real one a slow machine looks at the pins twice in one proof
    assert host.event() == (2, "Rows 0, 7 are held low: step off the mat; if it stays, dry it and look for a short.")
    assert host.ask(2, struct.pack("<H", 100))[0] == 6
    assert host.event() == (3, "")
    assert host.ask(1)[1][20] == 0
    # At 0, 1 and 2 s one look each (all pulled up), at 3 s the whole proof.
    looks = [line[:16] for line in states(log)]
    assert looks[:4] == [["1"] * 16] * 4
    assert looks[4] == ["4"] * 16
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
    assert host.frame().seq == 0


@pytest.mark.parametrize("joined", [((3, 4),), ((0, 15),)])
def test_the_electrical_twin_shows_the_joint_too(joined):
    plan = Scenario(MatSpec.reference(joined_rows=joined), Empty(5.0))
    with MatProcess(plan, fast=True) as process:
        host = Host(process.port)
        _, payload = host.ask(6)
        assert struct.unpack_from("<BBBH", payload, 1) == (1, *joined[0], 0)
        host.serial.close()


def test_a_row_tied_to_the_supply_is_never_held_low(mat, tmp_path):
    log = tmp_path / "probes"
    _, host = mat({"log": str(log), "high": [5]})
    assert host.event() == (2, "Rows 5 are held high: look for a short to the 3.3 V supply.")
    assert host.ask(2, struct.pack("<H", 100))[0] == 6
    _, payload = host.ask(6)
    assert struct.unpack_from("<BBBH", payload, 1) == (10, 5, 0, 0)
    assert not any("2" in line or HIGH in line for line in states(log))
