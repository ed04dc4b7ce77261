"""The radio's link by itself, on MicroPython: bytes made by hand, a bluetooth module that only takes them down."""

import pytest

BLUETOOTH = """
class UUID:
    def __init__(self, text):
        self.raw = bytes(reversed(bytes(int(text.replace("-", "")[i : i + 2], 16) for i in range(0, 32, 2))))
    def __iter__(self):
        return iter(self.raw)

class BLE:
    def __init__(self):
        self.said = []
        self.buffers = {}
        self.counted = 0
        self.full = False
        self.written = b""
        self.noted = True
    def active(self, on):
        self.said.append("on" if on else "off")
    def config(self, mtu):
        self.said.append("mtu %d" % mtu)
    def irq(self, handler):
        self.interrupt = handler
    def gatts_register_services(self, services):
        self.said.append("service")
        return ((9, 12),)
    def gatts_set_buffer(self, handle, size, append=False):
        self.buffers[handle] = (size, append)
    def gap_advertise(self, us, adv_data=None, resp_data=None):
        self.said.append((us, bytes(adv_data), bytes(resp_data)))
    def gap_disconnect(self, conn):
        self.said.append("disconnect")
        return False
    def gatts_read(self, handle):
        return self.written
    def gatts_notify(self, conn, handle, data):
        if self.full:
            raise OSError(12)
        self.counted += 1
        if self.noted:
            self.said.append((conn, handle, bytes(data)))
"""
MACHINE = "class Pin:\n    pass\n"
BEGIN = """
from mat import link_ble, wire, cobs
link = link_ble.LinkBle("bay 3", bytes(range(8)))
ble = link._ble
link.open()
"""


def run(mpy, code):
    return [eval(line) for line in mpy(BEGIN + code, {"bluetooth": BLUETOOTH, "machine": MACHINE}).splitlines()]


def test_it_advertises_its_service_its_name_and_the_end_of_its_id(mpy):
    said, buffers = run(mpy, "print(ble.said)\nprint(ble.buffers)")
    assert said[:3] == ["on", "mtu 247", "service"]
    us, advert, response = said[3]
    assert us == 100_000
    assert advert[:5] == b"\x02\x01\x06\x11\x07"
    assert advert[5:] == bytes.fromhex("318d07d017394521b87fcc3ad210676b")[::-1]
    assert response == b"\x0d\x09bay 3 050607"
    assert buffers == {12: (512, True), 9: (244, False)}


@pytest.mark.parametrize(("mtu", "length"), [(23, 244), (23, 125), (100, 244), (247, 244), (246, 244), (40, 36)])
def test_a_frame_leaves_whole_or_in_parts_that_fit_and_join_again(mpy, mtu, length):
    code = f"""
frame = bytearray(i * 7 & 255 for i in range({length}))
link.size_for(frame)
ble.interrupt(1, (5, 0, b""))
ble.interrupt(21, (5, {mtu}))
link.turn()
ble.said.clear()
print((link.send_frame(frame), link.splits))
print(ble.said)
"""
    (sent, splits), said = run(mpy, code)
    assert sent
    assert all((conn, handle) == (5, 9) and len(data) <= mtu - 3 for conn, handle, data in said)
    whole = bytes(i * 7 & 255 for i in range(length))
    assert splits == (mtu - 3 < length)
    if not splits:
        assert [data for _, _, data in said] == [whole]
        return
    n = -(-length // (mtu - 4))
    assert [data[0] for _, _, data in said] == [0xE0 | n - 1, *(0xF0 | n - 1 - i for i in range(1, n))]
    assert b"".join(data[1:] for _, _, data in said) == whole


def test_a_long_reply_leaves_in_parts_too_and_a_full_queue_is_no_fault(mpy):
    code = """
ble.interrupt(1, (5, 0, b""))
ble.said.clear()
link.send(bytearray(range(50)))
print(ble.said)
link.size_for(bytearray(100))
link.turn()
ble.full = True
print(link.send_frame(bytearray(100)))
link.send(bytearray(8))
"""
    said, sent = run(mpy, code)
    assert [data[0] for _, _, data in said] == [0xE2, 0xF1, 0xF0]
    assert b"".join(data[1:] for _, _, data in said) == bytes(range(50))
    assert sent is False


def test_writes_are_one_stream_and_a_new_central_begins_anew(mpy):
    code = """
def line(n):
    message = wire.message(wire.REQUEST, bytes((n, 4)))
    out = bytearray(20)
    return bytes(out[: cobs.encode(message, len(message), out)])
def write(data):
    ble.written = data
    ble.interrupt(3, (5, 12))
def ids():
    out = []
    while link.receive():
        out.append(link.message[1])
    return out
ble.interrupt(1, (5, 0, b""))
write(line(1) + line(2) + line(3)[:4])
print(ids())
write(line(3)[4:])
print(ids())
write(line(4)[:5])
print(ids())
ble.interrupt(21, (5, 247))
ble.interrupt(2, (5, 0, b""))
ble.said.clear()
print((link.connected, link.turn(), link.turn()))
print([said if isinstance(said, str) else "advertise" for said in ble.said])
ble.interrupt(1, (6, 0, b""))
write(line(5))
print((ids(), link._mtu))
print(link.refused)
"""
    first, second, half, gone, said, after, refused = run(mpy, code)
    assert (first, second, half) == ([1, 2], [3], [])
    assert gone == (False, True, False)
    assert said == ["service", "advertise"]
    assert after == ([5], 23)
    assert refused == 0


def test_a_disconnection_that_never_comes_through_is_noticed(mpy):
    code = """
ble.interrupt(1, (5, 0, b""))
link.drop()
print((link.turn(), link.connected))
"""
    assert run(mpy, code) == [(True, False)]


ALLOCATION = """
import gc
from mat import clock, hosts, tally
from array import array
h = hosts.Hosts(True, "a", bytes(8), clock.Clock())
h.stamp = bytearray(4)
h.radio.open()
ble = h.radio._ble
frame = wire.Frame(128, 14)
values = array("H", bytes(260))
h.size_for(frame.message, 16)
ble.interrupt(1, (5, 0, b""))
if {mtu} > 23:
    ble.interrupt(21, (5, {mtu}))
h.turn()
h.at = h.radio
h.claim()
ack = wire.message(wire.ACK, b"\\0\\0\\1")
out = bytearray(20)
ble.written = bytes(out[: cobs.encode(ack, len(ack), out)])
ble.noted = False
pair = (5, 12)
read = h.usb.receive
h.usb.receive = lambda ms: 0
def one(seq):
    h.credit.numbers[tally.SEQ] = seq
    sent = False
    if tally.head(h.credit.numbers, frame.message, h.stamp, values, 128, 0, 0, 0):
        frame.fill(values)
        sent = h.send_frame(frame.message)
    h.turn()
    ble.interrupt(3, pair)
    if h.receive(0):
        h.ack(wire.u16(h.at.message, 1), h.at.message[3])
    return sent
def run(n):
    sent = 0
    before = gc.mem_alloc()
    while n:
        if one(n & 0xFFFF):
            sent += 1
        n -= 1
    return gc.mem_alloc() - before, sent
run(100)
gc.collect()
gc.disable()
print(run(10000), ble.counted)
"""


@pytest.mark.parametrize(("mtu", "notifications"), [(247, 1), (23, 13)])
def test_ten_thousand_frames_over_the_radio_allocate_nothing_of_ours(mpy, mtu, notifications):
    """The stack's own copies are C: `gatts_read` gives a new bytes object an ack, and what it queues is the stack's."""
    script = "from mat import wire, cobs\n" + ALLOCATION.replace("{mtu}", str(mtu))
    (line,) = mpy(script, {"bluetooth": BLUETOOTH, "machine": MACHINE}).splitlines()
    assert line == f"(0, 10000) {10100 * notifications}"
