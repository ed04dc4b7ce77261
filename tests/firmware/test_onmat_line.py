"""What goes onto the mat, over the cable: pieces, refusals, and a mat that goes on afterwards as before."""

import struct
from dataclasses import replace

import pytest
from test_onmat import what

from groundtone.onboard.pack import packed

UID = bytes(range(1, 9)).hex()
BEGIN, PUT, END, WHAT, OFF = 11, 12, 13, 14, 15


def send(host, data, size=None, piece=230):
    assert host.ask(BEGIN, struct.pack("<I", len(data) if size is None else size)) == (0, b"")
    for at in range(0, len(data), piece):
        assert host.ask(PUT, struct.pack("<H", at) + data[at : at + piece]) == (0, b"")
    return host.ask(END)


@pytest.fixture
def sent():
    return packed(replace(what(), uid=UID))


def test_it_is_stored_asked_for_and_taken_off(mat, sent, tmp_path):
    _, host = mat()
    assert host.ask(WHAT) == (0, bytes(4))
    assert send(host, sent) == (0, sent[-4:])
    assert host.ask(WHAT) == (0, sent[-4:])
    assert host.ask(OFF) == (0, b"")
    assert host.ask(WHAT) == (0, bytes(4))


def test_what_is_not_whole_or_not_for_this_mat_leaves_the_old_one(mat, sent):
    _, host = mat()
    send(host, sent)
    status, text = send(host, packed(what()))
    assert status == 3
    assert b"another mat" in text
    status, text = send(host, sent[:-230], len(sent))
    assert status == 3
    assert b"send the rest" in text
    assert host.ask(WHAT) == (0, sent[-4:])


def test_a_running_mat_refuses_and_goes_on(mat, sent):
    _, host = mat()
    assert host.ask(2, struct.pack("<H", 100))[0] == 0
    status, text = host.ask(BEGIN, struct.pack("<I", len(sent)))
    assert status == 5
    assert b"stop it first" in text
    assert host.ask(OFF)[0] == 5
    assert host.ask(3)[0] == 0


def test_pieces_without_a_begin_and_sizes_that_do_not_fit_are_refused(mat, sent):
    _, host = mat()
    assert host.ask(PUT, b"\0\0abc")[0] == 2
    assert host.ask(END)[0] == 2
    assert host.ask(BEGIN, struct.pack("<I", 1_000_000))[0] == 3
    assert host.ask(BEGIN, b"\1")[0] == 2
    assert host.ask(BEGIN, struct.pack("<I", len(sent)))[0] == 0
    status, text = host.ask(PUT, struct.pack("<H", 500) + sent[500:600])
    assert status == 3
    assert b"begin again" in text
