# A scan's way to newtons (forces.py) in the Cortex-M's own instructions, bit for bit the same: a fifth of the time.
from array import array

import micropython
import uctypes
from mat.alone.cells_rp2 import newtons, read

__all__ = ["currents", "newtons", "read", "work"]

# `work`, by place in words. For `read` and `currents`: 0 the current row of g, 1 Q, 2 b, 3 the current s, 4 zero,
# 5 rows left, 6 bytes of a row, 7 low, 8 unequal less one, 9 flow, 10 power, 11 rise, 12 weight, 13 15500, 14 the sums,
# 15 g. For `newtons`: 16 g, 17 tables, 18 force, 19 tare, 20 place of the row, 21 rows left, 22 places of the columns,
# 23 half the columns, 24 rows, 25 columns, 26 feet, 27 the column; 28 tare and 29 places as they are at the beginning.
_SIZE = 30


def work(meter) -> array:
    """What the functions here need to know of a meter."""
    rows, columns = meter.plan[0], meter.plan[1]
    w = array("i", bytes(4 * _SIZE))
    fixed = (meter.q, meter.row, meter.more, meter.g, meter.feet, meter.tare, meter.places)
    for place, words in zip((1, 2, 14, 15, 26, 28, 29), fixed):
        w[place] = uctypes.addressof(words)
    w[22] = w[29] + 2 * rows
    w[23], w[24], w[25] = columns >> 1, rows, columns
    w[6], w[13] = 4 * columns, 15500
    return w


@micropython.asm_thumb
def currents(r0, r1, r2, r3):
    # r0: the places above, r1: plan, r2: s, r3: g
    mov(r7, r0)
    str(r3, [r7, 0])
    str(r2, [r7, 12])
    ldr(r3, [r1, 0])  # ROWS
    str(r3, [r7, 20])
    ldr(r3, [r1, 4])  # COLUMNS
    lsl(r3, r3, 2)
    str(r3, [r7, 24])
    ldr(r3, [r1, 16])  # LOW
    str(r3, [r7, 28])
    ldr(r3, [r1, 20])  # UNEQUAL
    mov(r4, 1)
    lsl(r4, r4, 14)
    sub(r3, r3, r4)
    str(r3, [r7, 32])

    label(ROW)
    ldr(r0, [r7, 0])
    ldr(r4, [r7, 24])
    mov(r5, 0)
    label(ANY)
    sub(r4, 4)
    data(2, 0x5906)  # ldr r6, [r0, r4]
    orr(r5, r6)
    cmp(r4, 0)
    bne(ANY)
    cmp(r5, 0)
    bne(LOADED)
    mov(r1, 1)
    lsl(r1, r1, 14)
    ldr(r2, [r7, 12])
    str(r1, [r2, 0])
    b(NEXT_ROW)

    # B = v Q: r0 v, r1 the column's line of Q, r3 the column, r4 the other column, r5 the sum
    label(LOADED)
    ldr(r1, [r7, 4])
    mov(r3, 0)
    str(r3, [r7, 36])
    str(r3, [r7, 40])
    label(COLUMN)
    ldr(r4, [r7, 24])
    mov(r5, 0)
    label(DOT)
    sub(r4, 4)
    data(2, 0x5906)  # ldr r6, [r0, r4]
    data(2, 0x590A)  # ldr r2, [r1, r4]
    mul(r6, r2)
    sub(r5, r5, r6)
    cmp(r4, 0)
    bne(DOT)
    data(2, 0x58C6)  # ldr r6, [r0, r3]
    data(2, 0x58CA)  # ldr r2, [r1, r3]
    mul(r2, r6)
    add(r5, r5, r2)
    add(r5, r5, r2)
    mov(r4, 1)
    lsl(r4, r4, 11)
    add(r5, r5, r4)
    asr(r5, r5, 12)
    cmp(r5, 0)
    bge(POSITIVE)
    mov(r5, 0)
    label(POSITIVE)
    ldr(r4, [r7, 8])
    data(2, 0x50E5)  # str r5, [r4, r3]
    ldr(r4, [r7, 36])
    add(r4, r4, r5)
    str(r4, [r7, 36])
    asr(r5, r5, 2)
    mul(r5, r6)
    asr(r5, r5, 12)
    ldr(r4, [r7, 40])
    add(r4, r4, r5)
    str(r4, [r7, 40])
    ldr(r4, [r7, 24])
    add(r1, r1, r4)
    add(r3, 4)
    cmp(r3, r4)
    bne(COLUMN)

    # The driver's factor and the rise: r1 factor, r2 rise
    ldr(r3, [r7, 12])
    ldr(r1, [r3, 0])
    ldr(r0, [r7, 36])
    cmp(r0, 0)
    bgt(FLOWS)
    mov(r1, 1)
    lsl(r1, r1, 14)
    str(r1, [r3, 0])
    mov(r2, 1)
    lsl(r2, r2, 12)
    b(RISEN)
    label(FLOWS)
    ldr(r2, [r7, 40])
    asr(r2, r2, 2)
    mul(r2, r1)
    asr(r2, r2, 12)
    sub(r2, r0, r2)
    asr(r2, r2, 2)
    mul(r2, r1)
    asr(r2, r2, 12)
    ldr(r4, [r7, 32])
    mul(r2, r4)
    asr(r2, r2, 14)
    mov(r1, 1)
    lsl(r1, r1, 14)
    mov(r5, r1)
    sub(r1, r1, r2)
    str(r1, [r3, 0])
    ldr(r4, [r7, 28])
    mul(r4, r1)
    asr(r4, r4, 14)
    asr(r0, r0, 2)
    mul(r4, r0)
    asr(r4, r4, 12)
    ldr(r2, [r7, 52])
    cmp(r4, r2)
    ble(SAGS)
    mov(r4, r2)
    label(SAGS)
    # (factor << 12) // (1 - sag), which is below 1 << 18
    sub(r4, r5, r4)
    lsl(r4, r4, 17)
    lsl(r2, r1, 12)
    mov(r0, 0)
    mov(r6, 18)
    label(DIVIDE)
    lsl(r0, r0, 1)
    cmp(r2, r4)
    bcc(LESS)
    sub(r2, r2, r4)
    add(r0, 1)
    label(LESS)
    lsr(r4, r4, 1)
    sub(r6, 1)
    cmp(r6, 0)
    bne(DIVIDE)
    mov(r2, r0)
    label(RISEN)
    str(r2, [r7, 44])
    mul(r1, r2)
    asr(r1, r1, 14)
    ldr(r4, [r7, 28])
    mul(r1, r4)
    asr(r1, r1, 12)
    str(r1, [r7, 48])

    # Conductances, and the sums for the next off-diagonal: r3 the column, r4 b, r1 its line of sums
    ldr(r1, [r7, 56])
    mov(r3, 0)
    ldr(r4, [r7, 8])
    label(CELL)
    ldr(r0, [r7, 0])
    data(2, 0x58E5)  # ldr r5, [r4, r3]
    ldr(r2, [r7, 44])
    lsr(r6, r5, 16)
    cmp(r6, 0)
    bne(BIG)
    mov(r6, r5)
    mul(r6, r2)
    mov(r2, 1)
    lsl(r2, r2, 11)
    add(r6, r6, r2)
    lsr(r6, r6, 12)
    b(STORE)
    label(BIG)
    lsr(r6, r5, 4)
    mul(r6, r2)
    lsr(r6, r6, 8)
    label(STORE)
    data(2, 0x50C6)  # str r6, [r0, r3]
    ldr(r6, [r7, 48])
    mul(r5, r6)
    lsr(r5, r5, 15)
    cmp(r5, 0)
    beq(NEXT_CELL)
    mov(r6, r3)
    label(PAIR)
    add(r6, 4)
    ldr(r2, [r7, 24])
    cmp(r6, r2)
    beq(NEXT_CELL)
    data(2, 0x59A2)  # ldr r2, [r4, r6]
    lsr(r2, r2, 1)
    mul(r2, r5)
    lsr(r2, r2, 12)
    data(2, 0x5988)  # ldr r0, [r1, r6]
    add(r0, r0, r2)
    data(2, 0x5188)  # str r0, [r1, r6]
    b(PAIR)
    label(NEXT_CELL)
    ldr(r2, [r7, 24])
    add(r1, r1, r2)
    add(r3, 4)
    cmp(r3, r2)
    bne(CELL)

    label(NEXT_ROW)
    ldr(r0, [r7, 0])
    ldr(r2, [r7, 24])
    add(r0, r0, r2)
    str(r0, [r7, 0])
    ldr(r0, [r7, 12])
    add(r0, 4)
    str(r0, [r7, 12])
    ldr(r0, [r7, 20])
    sub(r0, 1)
    str(r0, [r7, 20])
    cmp(r0, 0)
    beq(END)
    b(ROW)
    label(END)
