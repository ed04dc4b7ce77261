"""The mat's end of a hello: its payload from its fields."""

import struct

from groundtone.wire.codec import string

FIXED = struct.Struct("<BBBB8sBBBBHHBB")


def hello_payload(hello):
    """The payload of a hello reply; ValueError if a field does not fit its place."""
    uid = bytes.fromhex(hello.uid)
    if len(uid) != 8:
        raise ValueError(f"the unique id {hello.uid} does not fit its place: it has 16 hexadecimal digits")
    numbers = (hello.rows, hello.columns, hello.bits, hello.window, hello.rate_min_hz, hello.rate_max_hz)
    try:
        fixed = FIXED.pack(hello.wire, *hello.version, uid, *numbers, hello.state, hello.restart)
    except struct.error as error:
        raise ValueError(f"a field does not fit its place in the hello: {error}") from error
    return fixed + string(hello.board) + string(hello.layout) + string(hello.name)
