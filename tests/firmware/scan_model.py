"""What one scan on the registers must do, worked out in plain Python: the judge of both machines' runs."""

STRIKE, CELL = 1, 0
ZERO, SUPPLY, TAP = 8, 9, 10
REF = 1 << 22


def code(high, enabled, adc, count):
    """The simulated ADC: every pin, the channel and the number of the conversion show in its 12 bits."""
    return ((high & 0xFFFF) * 5 + (high >> 16 & 15) * 291 + (enabled >> 22 & 1) * 1000 + adc * 77 + count * 13) & 4095


def scan(rows, columns, readings, bits, odd, level, low, above=0):
    """(values, pins at each conversion, peak, above, marks, ceiling)."""
    values, log, marks, heard = [], [], [], []
    count = 0
    steps = [(1 << r, c, 0) for r in range(rows) for c in range(columns)]
    first = (2 | REF, SUPPLY, REF) if odd else (1, ZERO, REF)
    steps += [first, (first[0], TAP, REF)]
    ceiling = 0
    for at, (pins, node, enabled) in enumerate(steps):
        high = pins | node << 16
        strike = code(high, enabled, STRIKE, count)
        log.append((high, enabled, STRIKE))
        count += 1
        heard.append(strike)
        if above and strike < low:
            above = 0
        elif not above and strike >= level:
            above = 1
            if len(marks) < 8:
                marks.append(at)
        codes = []
        for _ in range(readings):
            codes.append(code(high, enabled, CELL, count))
            log.append((high, enabled, CELL))
            count += 1
        ceiling |= 4095 in codes
        values.append((sum(codes) << (bits - 12)) // readings)
    return values, log, max(heard), above, marks, int(ceiling)
