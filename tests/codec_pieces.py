"""Pieces of MicroPython that put the shared vectors through the firmware's codec, on a computer and on the chip."""

import json
from pathlib import Path

VECTORS = Path(__file__).parent / "vectors"

FRAMES = """
import json
from array import array
from mat import tally, wire
for v in json.loads(open({path!r}).read()):
    m = v["message"]
    frame = wire.Frame(v["rows"] * v["columns"], v["bits"])
    t = m["t_us"]
    stamp = bytes((t & 255, t >> 8 & 255, t >> 16 & 255, t >> 24))
    values = array("H", m["cells"] + [m["ref_a"], m["ref_b"]])
    numbers = tally.numbers()
    numbers[tally.SEQ], numbers[tally.WINDOW] = m["seq"], 2
    strike = m["strike_peak"], m["strike_offset_us"]
    assert tally.head(numbers, frame.message, stamp, values, frame.cells, m["flags"], *strike) == 1
    frame.fill(values)
    text = "".join("%02x" % b for b in frame.message)
    print(v["name"] + "|" + text + "|" + str(wire.sound(frame.message, len(frame.message))))
"""

DECODE = """
import sys
from mat import cobs, wire
decoder = cobs.Decoder()
for b in open({path!r}, "rb").read():
    n = decoder.feed(b)
    if n:
        print("".join("%02x" % x for x in decoder.message[:n]), wire.sound(decoder.message, n))
print("dropped", decoder.dropped)
"""

REPLIES = """
import json
from mat import wire
for v in json.loads(open({path!r}).read()):
    m = v["message"]
    if m["type"] == "reply":
        p = m["payload"]
        payload = bytes([int(p[i:i+2], 16) for i in range(0, len(p), 2)])
        out = wire.message(wire.REPLY, bytes((m["id"], m["command"], m["status"])) + payload)
    else:
        out = wire.message(wire.EVENT, bytes((m["code"],)) + m["t_us"].to_bytes(4, "little") + m["text"].encode())
    print("".join("%02x" % b for b in out))
"""

ENCODE = """
from mat import cobs
for line in open({path!r}):
    line = line.strip()
    t = bytes([int(line[i:i+2], 16) for i in range(0, len(line), 2)])
    out = bytearray(len(t) + len(t) // 254 + 2)
    n = cobs.encode(t, len(t), out)
    print("".join("%02x" % b for b in out[:n]))
"""


def load(name):
    return json.loads((VECTORS / name).read_text())
