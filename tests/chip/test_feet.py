"""Feet worked out on the chip, the cache modelled: a hundred scans a second are kept and none is skipped."""

import struct

import numpy as np
from cobs import cobs

from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.rulefile import default_rules
from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import OnMat, limits_of, packed
from groundtone.onboard.tables import PLACES, tables_of

BEGIN, PUT, END, START_FEET, STOP = 11, 12, 13, 17, 3
FEET = 0x16


def test_a_hundred_a_second_are_kept(board, mat):
    host = mat()
    uid = host.ask(1)[1][4:12].hex()
    layout = layout_of("reference-16x4")
    force = tables_of(typical_curves(16, 8), 1000.0).force
    limits, _ = limits_of(default_rules())
    data = packed(OnMat(uid, layout.id, 0, 200, 0.0, 0, 140.0, 140.0, 100.0, 1000.0, 1000.0, (1 << PLACES,) * 8,
                        limits, force))  # fmt: skip
    assert host.ask(BEGIN, struct.pack("<I", len(data)))[0] == 0
    for at in range(0, len(data), 230):
        assert host.ask(PUT, struct.pack("<H", at) + data[at : at + 230])[0] == 0
    assert host.ask(END)[1][:4] == data[-4:]
    assert host.ask(START_FEET, struct.pack("<H", 100)) == (0, struct.pack("<I", 10_000))
    line, seqs, starts = b"", [], []
    until = board.us + 1.2e6
    while board.us < until:
        line += b"".join(came for _, came in board.run(2000))
        *whole, line = line.split(b"\0")
        for message in (cobs.decode(raw) for raw in whole if raw):
            if message[0] == FEET:
                seq, t_us = struct.unpack_from("<HI", message, 2)
                seqs.append(seq)
                starts.append(t_us)
                host.ack(seq)
    assert len(seqs) > 110
    assert seqs == list(range(len(seqs)))
    assert abs(np.diff(starts) - 10_000).max() < 300
    sent, skipped = struct.unpack("<II", host.ask(STOP)[1])
    assert (sent >= len(seqs), skipped) == (True, 0)
