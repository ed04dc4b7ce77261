"""A Cortex-M0+ that runs a function's emitted instructions and counts their cycles, with memory given by functions."""

from __future__ import annotations

from collections.abc import Callable

from groundtone.errors import GroundtoneError

# Cycles by the Cortex-M0+ technical reference manual, section "Instruction set summary" (from memory): data processing
# 1, the RP2040's multiplier 1, load and store 2 (1 on the single-cycle port, which is the SIO), a branch taken 2, not
# taken 1, push and pop 1 + one a register, pop into pc 2 more, call through a register 2.
_ALU, _MEMORY, _BRANCH = 1, 2, 2

Load = Callable[[int, int], tuple[int, int]]
Store = Callable[[int, int, int], int]


def unpredictable(instruction: int, at: int) -> GroundtoneError:
    """The error for an instruction outside the counted set."""
    return GroundtoneError(f"instruction {instruction:#06x} at {at:#x} is not one the counter knows")


class Core:
    """Registers, flags, a cycle counter and one function's code.

    Parameters
    ----------
    code : bytes
        Machine code; it stands at address 0.
    load : callable
        (address, bytes) to (value, extra cycles). Extra cycles may be negative: the single-cycle port.
    store : callable
        (address, bytes, value) to extra cycles.
    call : callable
        A call to an address outside the code: gets the registers r0 to r3, returns r0. Takes no time here.
    """

    def __init__(self, code: bytes, load: Load, store: Store, call: Callable[[int, list[int]], int]) -> None:
        self._code = [int.from_bytes(code[i : i + 2], "little") for i in range(0, len(code) - 1, 2)]
        self._load, self._store, self._call = load, store, call
        self.r = [0] * 16
        self.n = self.z = self.c = self.v = False
        self.cycles = 0
        self.visits: dict[int, int] = {}

    def run(self, end: int, most: int = 10_000_000) -> None:
        """Run from address 0 until the program counter reaches `end`."""
        self.r[15] = 0
        while self.r[15] != end:
            if self.cycles > most:
                raise GroundtoneError("the counted function does not come to its end")
            self.step()

    def step(self) -> None:
        """One instruction."""
        at = self.r[15]
        op = self._code[at >> 1]
        self.visits[at] = self.visits.get(at, 0) + 1
        self.r[15] = at + 2
        top = op >> 11
        if top < 0b01000:
            self._shift_add(op)
            self.cycles += _ALU
        elif op >> 10 == 0b010000:
            self._alu(op)
            self.cycles += _ALU
        elif op >> 10 == 0b010001:
            self._high(op, at)
        elif top < 0b10100:
            self._memory(op, at)
        elif top < 0b10110:  # address of pc or sp
            base = self.r[13] if top & 1 else (at + 4) & ~3
            self.r[op >> 8 & 7] = base + (op & 255) * 4
            self.cycles += _ALU
        elif top in (0b10110, 0b10111):
            self._stack(op, at)
        elif top in (0b11010, 0b11011):
            self._conditional(op, at)
        elif top == 0b11100:
            self._jump(at, _signed(op & 0x7FF, 11))
        elif top == 0b11110:
            second = self._code[(at >> 1) + 1]
            sign = op >> 10 & 1
            offset = (op & 0x3FF) << 11 | second & 0x7FF
            offset |= (1 - (second >> 13 & 1 ^ sign)) << 22 | (1 - (second >> 11 & 1 ^ sign)) << 21
            self.r[14] = at + 5
            self.r[15] = at + 4 + 2 * _signed(offset | sign << 23, 24)
            self.cycles += 3
        else:
            raise unpredictable(op, at)

    def _set_nz(self, value: int) -> int:
        value &= 0xFFFFFFFF
        self.n, self.z = bool(value >> 31), value == 0
        return value

    def _add(self, a: int, b: int, carry: int) -> int:
        total = a + b + carry
        out = self._set_nz(total)
        self.c = total > 0xFFFFFFFF
        self.v = bool((~(a ^ b) & (a ^ out)) >> 31 & 1)
        return out

    def _subtract(self, a: int, b: int) -> int:
        return self._add(a, ~b & 0xFFFFFFFF, 1)

    def _shift_add(self, op: int) -> None:
        r, d, s = self.r, op & 7, op >> 3 & 7
        top = op >> 11
        if top < 3:
            r[d] = self._shift(top, r[s], (op >> 6 & 31) or (32 if top else 0))
        elif top == 3:
            b = (op >> 6 & 7) if op >> 10 & 1 else r[op >> 6 & 7]
            r[d] = self._subtract(r[s], b) if op >> 9 & 1 else self._add(r[s], b, 0)
        else:
            d, b = op >> 8 & 7, op & 255
            if top == 4:
                r[d] = self._set_nz(b)
            elif top == 5:
                self._subtract(r[d], b)
            else:
                r[d] = self._add(r[d], b, 0) if top == 6 else self._subtract(r[d], b)

    def _shift(self, kind: int, value: int, by: int) -> int:
        """Left, right, arithmetic right, rotate: 0 to 3."""
        if by == 0:
            return self._set_nz(value)
        if kind == 0:
            self.c = bool(by <= 32 and value >> (32 - by) & 1)
            return self._set_nz(value << by)
        if kind == 3:
            by &= 31
            out = (value >> by | value << (32 - by)) & 0xFFFFFFFF
            self.c = bool(out >> 31)
            return self._set_nz(out)
        wide = _signed(value, 32) if kind == 2 else value
        by = min(by, 33)
        self.c = bool(wide >> (by - 1) & 1)
        return self._set_nz(wide >> by)

    def _alu(self, op: int) -> None:
        r, d, s = self.r, op & 7, op >> 3 & 7
        a, b = r[d], r[s]
        kind = op >> 6 & 15
        if kind in (2, 3, 4, 7):
            r[d] = self._shift({2: 0, 3: 1, 4: 2, 7: 3}[kind], a, b & 255)
        elif kind == 5:
            r[d] = self._add(a, b, int(self.c))
        elif kind == 6:
            r[d] = self._add(a, ~b & 0xFFFFFFFF, int(self.c))
        elif kind == 9:
            r[d] = self._subtract(0, b)
        elif kind in (8, 10, 11):
            if kind == 8:
                self._set_nz(a & b)
            elif kind == 10:
                self._subtract(a, b)
            else:
                self._add(a, b, 0)
        else:
            r[d] = self._set_nz({0: a & b, 1: a ^ b, 12: a | b, 13: a * b, 14: a & ~b, 15: ~b}[kind])

    def _high(self, op: int, at: int) -> None:
        r, d, s = self.r, op & 7 | op >> 4 & 8, op >> 3 & 15
        kind = op >> 8 & 3
        self.cycles += _ALU
        if kind == 3:
            self.cycles += _BRANCH - _ALU
            if op >> 7 & 1:
                r[14] = at + 3
                r[0] = self._call(r[s], r[:4])
            else:
                r[15] = r[s] & ~1
        elif d == 15 or s == 15:
            raise unpredictable(op, at)
        elif kind == 0:
            r[d] = (r[d] + r[s]) & 0xFFFFFFFF
        elif kind == 1:
            self._subtract(r[d], r[s])
        else:
            r[d] = r[s]

    def _memory(self, op: int, at: int) -> None:
        r = self.r
        d, top = op & 7, op >> 11
        if top == 0b01001:
            address, size, loads, d = ((at + 4) & ~3) + (op & 255) * 4, 4, True, op >> 8 & 7
            self.cycles += _MEMORY
            r[d] = self._code[address >> 1] | self._code[(address >> 1) + 1] << 16
            return
        if top in (0b10010, 0b10011):
            address, size, loads, d = r[13] + (op & 255) * 4, 4, bool(top & 1), op >> 8 & 7
        elif top in (0b01010, 0b01011):
            kind = op >> 9 & 7
            address = (r[op >> 3 & 7] + r[op >> 6 & 7]) & 0xFFFFFFFF
            size = (4, 2, 1, 1, 4, 2, 1, 2)[kind]
            if kind in (3, 7):
                value, extra = self._load(address, size)
                r[d] = _signed(value, 8 * size) & 0xFFFFFFFF
                self.cycles += _MEMORY + extra
                return
            loads = kind > 3
        else:
            size = {0b01100: 4, 0b01101: 4, 0b01110: 1, 0b01111: 1, 0b10000: 2, 0b10001: 2}[top]
            address, loads = (r[op >> 3 & 7] + (op >> 6 & 31) * size) & 0xFFFFFFFF, bool(top & 1)
        if loads:
            r[d], extra = self._load(address, size)
        else:
            extra = self._store(address, size, r[d] & ((1 << 8 * size) - 1))
        self.cycles += _MEMORY + extra

    def _stack(self, op: int, at: int) -> None:
        r = self.r
        if op >> 8 == 0b10110000:
            r[13] += -(op & 127) * 4 if op & 128 else (op & 127) * 4
            self.cycles += _ALU
        elif op >> 9 in (0b1011010, 0b1011110):
            names = [i for i in range(8) if op >> i & 1]
            pops = op >> 9 == 0b1011110
            if op >> 8 & 1:
                names.append(15 if pops else 14)
            self.cycles += 1 + len(names) + (2 if pops and op >> 8 & 1 else 0)
            if not pops:
                r[13] -= 4 * len(names)
            for i, name in enumerate(names):
                if pops:
                    r[name] = self._load(r[13] + 4 * i, 4)[0]
                else:
                    self._store(r[13] + 4 * i, 4, r[name])
            if pops:
                r[13] += 4 * len(names)
                r[15] &= ~1
        elif op >> 6 in (0b1011001000, 0b1011001001, 0b1011001010, 0b1011001011):
            size = 16 if op >> 6 & 1 == 0 else 8
            value = r[op >> 3 & 7] & ((1 << size) - 1)
            r[op & 7] = value if op >> 7 & 1 else _signed(value, size) & 0xFFFFFFFF
            self.cycles += _ALU
        elif op == 0xBF00:
            self.cycles += _ALU
        else:
            raise unpredictable(op, at)

    def _conditional(self, op: int, at: int) -> None:
        n, z, c, v = self.n, self.z, self.c, self.v
        tests = (z, c, n, v, c and not z, n == v, not z and n == v)
        kind = op >> 8 & 15
        if kind > 13:
            raise unpredictable(op, at)
        if tests[kind >> 1] != bool(kind & 1):
            self._jump(at, _signed(op & 255, 8))
        else:
            self.cycles += _ALU

    def _jump(self, at: int, words: int) -> None:
        self.r[15] = at + 4 + 2 * words
        self.cycles += _BRANCH


def _signed(value: int, bits: int) -> int:
    return value - (1 << bits) if value >> (bits - 1) & 1 else value
