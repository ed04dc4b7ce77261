"""What goes onto the mat, over the cable: pieces, refusals, and a mat that goes on afterwards as before."""

import struct
from dataclasses import replace

import pytest
from test_onmat import what

from groundtone.onboard.pack import packed

UID = bytes(range(1, 9)).hex()
BEGIN, PUT, END, WHAT, OFF, BACK = 11, 12, 13, 14, 15, 16


def send(host, data, size=None, piece=230):
    assert host.ask(BEGIN, struct.pack("<I", len(data) if size is None else size)) == (0, b"")
    for at in range(0, len(data), piece):
        assert host.ask(PUT, struct.pack("<H", at) + data[at : at + piece]) == (0, b"")
    return host.ask(END)


def answer(data):
    return data[-4:] + struct.pack("<H", len(data))


@pytest.fixture
def sent():
    return packed(replace(what(), uid=UID))


def test_it_is_stored_asked_for_and_taken_off(mat, sent, tmp_path):
    _, host = mat()
    assert host.ask(WHAT, bytes(4)) == (0, bytes(6))
    assert send(host, sent) == (0, answer(sent))
    assert host.ask(WHAT, bytes(4)) == (0, answer(sent))
    assert host.ask(OFF) == (0, b"")
    assert host.ask(WHAT, bytes(4)) == (0, bytes(6))


def test_what_is_not_whole_or_not_for_this_mat_leaves_the_old_one(mat, sent):
    _, host = mat()
    send(host, sent)
    status, text = send(host, packed(what()))
    assert status == 3
    assert b"another mat" in text
    status, text = send(host, sent[:-230], len(sent))
    assert status == 3
    assert b"send the rest" in text
    assert host.ask(WHAT, bytes(4)) == (0, answer(sent))


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


def test_it_is_read_back_as_it_was_sent(mat, sent):
    _, host = mat()
    assert host.ask(BACK, bytes(2)) == (0, b"")
    send(host, sent)
    back = b"".join(host.ask(BACK, struct.pack("<H", at))[1] for at in range(0, len(sent), 230))
    assert back == sent
    assert host.ask(BACK, struct.pack("<H", len(sent))) == (0, b"")


def test_it_is_gone_after_its_last_second_once_somebody_tells_the_time(mat, sent):
    _, host = mat()
    send(host, sent)
    until = what().expires_s
    assert host.ask(WHAT, struct.pack("<I", until)) == (0, answer(sent))
    assert host.ask(WHAT, bytes(4)) == (0, answer(sent))
    assert host.ask(WHAT, struct.pack("<I", until + 1)) == (0, bytes(6))
    assert host.ask(WHAT, bytes(4)) == (0, bytes(6))
