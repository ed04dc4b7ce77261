# The turns of a quick run over the cable: what has come, the wait, the scan, its frame, in one function.
#
# The interpreter and the USB's program do not fit into the flash's cache together, and a name looked up costs a
# microsecond: so nothing here is bytecode, and all that it needs are variables of the function around it.
import sys
from array import array

import micropython
import uctypes
from mat import cobs, line_rp2, listen_rp2, scan_rp2, tally, wire
from micropython import const

_BYTES = const(64)  # of the line in one turn
_PIECE = const(30)  # readings of the strike sensor, some 75 us: a packet is on the line for 50
_ROOM_US = const(700)  # nearer to a scan nobody looks after packets
_ENOUGH = const(1000000)
_JUDGE_US = const(400)  # what a scan heard is looked at so long before the next one: the ring is over by then
_COUNT = const(4)  # places in `heard` and in what was found (mat/listen_rp2.py)
_WHEN = const(13)
_START = const(14)
_BEGAN = const(15)
_CEILING = const(13)  # in the plan (mat/scan_rp2.py)
_SEQ = const(1)  # in the tally (mat/tally.py)
_DUE = const(19)
_HALF = const(0x20000000)  # of what ticks_us counts to
_TICKS = const(0x3FFFFFFF)
_FLAG_STRIKE = const(1)
_FLAG_CEILING = const(4)
_ACK_BYTES = const(8)
_ACK = const(0x12)


def turns(app) -> object:
    """The function that takes a turn of this run."""
    numbers, link, clock, strike, scan, frame = app.tally, app.link, app.clock, app.strike, app.scan, app.frame
    usb = link.usb
    line, come, gone, encoded = usb.line, usb.bytes, usb.message, usb.encoded
    heard, found, plan, values = strike.heard, scan.found, scan.plan, app.values
    adc, sio, timer = scan.adc_registers, scan.registers, scan.timer
    stamp = uctypes.bytearray_at(uctypes.addressof(found) + 4 * _WHEN, 4)
    message, cells, bits, sealed = frame.message, frame.cells, frame.bits, frame.sealed
    cells_at, crc_at, table, length = frame.cells_at, frame.crc_at, wire.TABLE, len(frame.message)
    up = bits - 12
    drain, pump, pack, crc, encode = line_rp2.drain, line_rp2.pump, line_rp2.pack, line_rp2.crc, line_rp2.encode
    wait, begin, end, sweep = listen_rp2.wait, listen_rp2.begin, listen_rp2.end, scan_rp2.sweep
    edges, inte, bit = scan.edges, scan.inte, scan.edge_bit
    started, head, acknowledged = tally.started, tally.head, tally.acknowledged
    decode, same4, check, stirred, hear = cobs.decode, wire.same4, wire.CHECK, strike.stirred, scan.hear
    swept, size = strike.swept, scan.size
    kept = array("i", [0, 0, 0])  # a scan that heard something: is there one, its start, how long it took
    write = sys.stdout.buffer.write

    @micropython.native
    def take(n: int) -> None:
        # An ack is taken at once; whatever else goes to the app.
        n = decode(come, n - 1, gone)
        if n == _ACK_BYTES and gone[0] == _ACK:
            crc(table, gone, _ACK_BYTES - 4, check)
            if same4(check, gone, _ACK_BYTES - 4):
                link.heard = clock.tenths
                acknowledged(numbers, gone[1] | gone[2] << 8, gone[3])
                return
        link.at = usb
        n = usb.sound(n)
        if n:
            app.take(gone, n)

    @micropython.native
    def turn() -> None:
        n = drain(line, _BYTES)
        if n > 1:
            take(n)
            if not app.brisk:
                return
        until = numbers[_DUE]
        sound_yet = 0
        if begin(timer, heard, found, edges, inte, bit, until) > _ROOM_US:
            # The frame before leaves in packets, each when the one before is gone and somebody looks.
            n = 3
            while n:
                n -= 1
                sound_yet |= wait(timer, adc, plan, heard, found, until, _PIECE)
                pump(line)
        if kept[0]:
            sound_yet |= wait(timer, adc, plan, heard, found, (until - _JUDGE_US) & _TICKS, _ENOUGH)
            kept[0] = 0
            swept(kept[1], kept[2], size)
        sound_yet |= wait(timer, adc, plan, heard, found, until, _ENOUGH)
        sound_yet |= sweep(adc, sio, plan, values, heard, numbers[_SEQ] & 1)
        ended = end(timer, heard, edges, inte, bit)
        if sound_yet:
            raise RuntimeError("the ADC does not answer")
        start = found[_START]
        late = ((start - until + _HALF) & _TICKS) - _HALF
        numbers[_DUE] = (until + started(numbers, late)) & _TICKS
        flags = peak = offset = 0
        if plan[_CEILING]:
            flags = _FLAG_CEILING
        if heard[_COUNT] and not (found[_COUNT] or stirred(found[_BEGAN], ended)):
            # A ring may have begun just now: back to listening, a deaf moment would hide its next crossing.
            kept[0] = 1
            kept[1] = start
            kept[2] = ((ended - start + _HALF) & _TICKS) - _HALF
        elif heard[_COUNT] or found[_COUNT] or stirred(found[_BEGAN], ended):
            scan.ended = ended
            if hear(start):
                flags |= _FLAG_STRIKE
                peak = strike.peak << up
                offset = strike.offset_us
        if head(numbers, message, stamp, values, cells, flags, peak, offset):
            pack(values, cells_at, cells, bits)
            crc(table, message, sealed, crc_at)
            encode(message, length, encoded)
            write(encoded)
        elif peak:
            strike.keep(start)

    return turn
