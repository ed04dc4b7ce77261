# Packing, CRC, COBS and the console's bytes in the Cortex-M's own instructions; mat/wire.py and mat/cobs.py are the
# same without them. Both pass the vectors of tests/vectors.
import sys
from array import array

import machine
import micropython
import uctypes
from micropython import const

# MicroPython has no read of what has come and no more: a read of several bytes waits for all of them, and a byte at a
# time through Python costs 0.2 ms each. So the stream's own functions are called. Where they stand in a stream's type
# is no promise of MicroPython's: these versions were looked at (py/obj.h, py/stream.h).
_LOOKED_AT = ((1, 24), (1, 28))
_PROTOCOL = const(17)  # byte of mp_obj_type_t: which of its slots holds the protocol
_SLOTS = const(20)
_ROOM = const(260)

_OBJECT = const(0)  # places in `drain`'s array: the stream, its functions, the line and how much of it is there
_IOCTL = const(1)
_READ = const(2)
_LINE = const(3)
_N = const(4)
_SIZE = const(5)


@micropython.asm_thumb
def pack(r0, r1, r2, r3):
    # r2 values of r3 bits each from r0 to r1, the first in the lowest bits
    mov(r4, 0)
    mov(r5, 0)
    label(VALUE)
    cmp(r2, 0)
    beq(REST)
    ldrh(r6, [r0, 0])
    add(r0, 2)
    lsl(r6, r5)
    orr(r4, r6)
    add(r5, r5, r3)
    label(BYTE)
    cmp(r5, 8)
    blt(NEXT)
    strb(r4, [r1, 0])
    add(r1, 1)
    lsr(r4, r4, 8)
    sub(r5, 8)
    b(BYTE)
    label(NEXT)
    sub(r2, 1)
    b(VALUE)
    label(REST)
    cmp(r5, 0)
    beq(END)
    strb(r4, [r1, 0])
    label(END)


@micropython.asm_thumb
def crc(r0, r1, r2, r3):
    # CRC-32 with the table r0 over r2 bytes at r1, written to r3
    mov(r4, 0)
    mvn(r4, r4)
    mov(r7, 255)
    label(LOOP)
    cmp(r2, 0)
    beq(DONE)
    ldrb(r5, [r1, 0])
    add(r1, 1)
    eor(r5, r4)
    and_(r5, r7)
    lsl(r5, r5, 2)
    add(r5, r5, r0)
    ldr(r5, [r5, 0])
    lsr(r4, r4, 8)
    eor(r4, r5)
    sub(r2, 1)
    b(LOOP)
    label(DONE)
    mvn(r4, r4)
    strb(r4, [r3, 0])
    lsr(r4, r4, 8)
    strb(r4, [r3, 1])
    lsr(r4, r4, 8)
    strb(r4, [r3, 2])
    lsr(r4, r4, 8)
    strb(r4, [r3, 3])


@micropython.asm_thumb
def encode(r0, r1, r2):
    # COBS of r1 bytes at r0 to r2 with the ending zero; the length
    mov(r3, r2)
    mov(r4, r2)
    add(r4, 1)
    mov(r5, 1)
    mov(r7, r2)
    label(NEXT)
    cmp(r1, 0)
    beq(END)
    ldrb(r6, [r0, 0])
    add(r0, 1)
    sub(r1, 1)
    cmp(r6, 0)
    beq(BLOCK)
    strb(r6, [r4, 0])
    add(r4, 1)
    add(r5, 1)
    cmp(r5, 255)
    bne(NEXT)
    cmp(r1, 0)
    beq(END)
    label(BLOCK)
    strb(r5, [r3, 0])
    mov(r3, r4)
    add(r4, 1)
    mov(r5, 1)
    b(NEXT)
    label(END)
    strb(r5, [r3, 0])
    mov(r6, 0)
    strb(r6, [r4, 0])
    sub(r0, r4, r7)
    add(r0, 1)


@micropython.asm_thumb
def drain(r0, r1):
    # Take at most r1 bytes that have come to the end of the line; up to its zero. The line's length, or 0.
    mov(r4, r0)
    mov(r6, r1)
    label(AGAIN)
    cmp(r6, 0)
    beq(NOTHING)
    sub(r6, 1)
    ldr(r0, [r4, 0])
    mov(r1, 3)
    mov(r2, 1)
    mov(r3, r4)
    add(r3, 24)
    ldr(r5, [r4, 4])
    data(2, 0x47A8)
    mov(r1, 1)
    and_(r0, r1)
    beq(NOTHING)
    ldr(r0, [r4, 0])
    mov(r1, r4)
    add(r1, 28)
    mov(r2, 1)
    mov(r3, r4)
    add(r3, 24)
    ldr(r5, [r4, 8])
    data(2, 0x47A8)
    cmp(r0, 1)
    bne(NOTHING)
    ldrb(r1, [r4, 28])
    ldr(r2, [r4, 16])
    ldr(r3, [r4, 20])
    cmp(r2, r3)
    bge(FULL)
    ldr(r5, [r4, 12])
    add(r5, r5, r2)
    strb(r1, [r5, 0])
    add(r2, 1)
    str(r2, [r4, 16])
    label(FULL)
    cmp(r1, 0)
    bne(AGAIN)
    mov(r3, 0)
    str(r3, [r4, 16])
    mov(r0, r2)
    b(END)
    label(NOTHING)
    mov(r0, 0)
    label(END)


@micropython.asm_thumb
def pump(r0):
    # Ask the stream whether something has come, which lets the USB's own program go on: the next packet leaves.
    mov(r4, r0)
    ldr(r0, [r4, 0])
    mov(r1, 3)
    mov(r2, 1)
    mov(r3, r4)
    add(r3, 24)
    ldr(r5, [r4, 4])
    data(2, 0x47A8)


class Line:
    """The console's bytes, gathered to whole lines without waiting for any. Raises ValueError where not known how."""

    def __init__(self, stream) -> None:
        if not _LOOKED_AT[0] <= tuple(sys.implementation.version[:2]) <= _LOOKED_AT[1]:
            raise ValueError("an unknown MicroPython")
        self.bytes = bytearray(_ROOM)
        kind = machine.mem32[id(stream)]
        slot = machine.mem8[kind + _PROTOCOL]
        protocol = machine.mem32[kind + _SLOTS - 4 + 4 * slot]
        read, ioctl = machine.mem32[protocol], machine.mem32[protocol + 8]
        # Both are functions in flash, as addresses of Thumb code.
        if not (0 < slot < 12 and read >> 24 == ioctl >> 24 == 0x10 and read & ioctl & 1):
            raise ValueError("an unknown stream")
        self.state = array("i", [id(stream), ioctl, read, uctypes.addressof(self.bytes), 0, _ROOM, 0, 0])

    @micropython.native
    def take(self, most: int) -> int:
        """The length of a line that is whole, with its zero, or 0. One that is too long has the length of `bytes`."""
        return drain(self.state, most)
