"""A world of constants for the firmware's tests: every reading can be worked out by hand."""

import json
import math
import struct
from pathlib import Path

CONVERSIONS = 4
FULL = {"zero": 6, "supply": 2066, "tap_high": 3520, "tap_low": 452}


def cell(row, column):
    """Code of the first conversion of a cell; the next three are one, two and three higher."""
    return 4 * row + 100 * column


class PlainWorld:
    """Rows stand alone unless the plan joins them or holds them low; the fault may end at a time.

    Plan (JSON): rows, layout, joined [[a, b]], low [rows], high [rows], mended_us,
    strikes [[t_us, code, length_us]], ceiling bool, ohm {column: ohms},
    log (file that gets one line a probe: the pins' states), tables (file that gets one byte a table).
    """

    duration_s = 3600.0

    def __init__(self, text):
        plan = json.loads(text)
        self.rows = plan.get("rows", 16)
        self.layout = plan.get("layout", "reference-16x4")
        self.uid = "0102030405060708"
        self._plan = plan

    def table(self, film_time_us):
        if "tables" in self._plan:
            with Path(self._plan["tables"]).open("ab") as count:
                count.write(b".")
        codes = []
        for state in range(self.rows + 2):
            for node in range(16):
                first = 0
                if node < 8 and state < self.rows:
                    first = cell(state, node)
                elif node == 8:
                    first = FULL["zero"]
                elif node == 9:
                    first = FULL["supply"]
                elif node == 10:
                    first = {self.rows: FULL["tap_high"], self.rows + 1: FULL["tap_low"]}.get(state, 0)
                codes += [first + i for i in range(CONVERSIONS)]
        if self._plan.get("ceiling"):
            codes[CONVERSIONS * 16 * 3] = 4095  # row 3, column 0
        return struct.pack(f"<{len(codes)}H", *codes)

    def probe(self, film_time_us, row_states, ref_state):
        if "log" in self._plan:
            with Path(self._plan["log"]).open("a") as log:
                log.write(" ".join(map(str, row_states)) + f" {ref_state}\n")
        levels = [self._own_level(s) for s in row_states]
        if film_time_us < self._plan.get("mended_us", 1 << 60):
            for row in self._plan.get("low", []):
                levels[row] = 0
            for row in self._plan.get("high", []):
                levels[row] = 1
            for a, b in self._plan.get("joined", []):
                levels[a] = levels[b] = levels[a] & levels[b]
        return bytes(32) + bytes(levels) + bytes((self._own_level(ref_state),))

    def pulled(self, film_time_us, row_states, ref_state, pull, node):
        """A 60 kOhm pull against 70 Ohm of the multiplexer and 1 kOhm a column; the tap has REF's 1 kOhm and 30 Ohm."""
        ohm = {8: 0.0, 10: 1030.0}.get(node, 1e9 if node > 10 else self._plan.get("ohm", {}).get(str(node), 1000.0))
        code = round(4095 * (ohm + 70) / (ohm + 70 + 60e3)) if pull == 1 else 0
        return struct.pack("<16H", *[code] * 16)

    @staticmethod
    def _own_level(state):
        return 1 if state in (1, 3) else 0

    def strike(self, t0_us, t1_us):
        heard = [(code / 4096, t) for t, code, _ in self._plan.get("strikes", []) if t0_us < t <= t1_us]
        return max(heard) if heard else None

    def strike_code(self, film_time_us):
        """A ring of 2.5 kHz without its lower half-waves."""
        for t, code, length in self._plan.get("strikes", []):
            if t <= film_time_us < t + length:
                return max(3, round(code * math.cos(2 * math.pi * 2500e-6 * (film_time_us - t))))
        return 3
