"""Sentences of the self-test's findings and of restarts: each code its own, with what to do."""

import re
from pathlib import Path

import pytest

from groundtone.wire.findings import FIRST_FIGURE, Code, Restart, faults, is_fault, restart_sentence, sentence
from groundtone.wire.messages import Finding

WIRE = (Path(__file__).parents[2] / "firmware" / "WIRE.md").read_text(encoding="utf-8")


def test_the_codes_are_those_of_the_wire():
    table = WIRE.split("## Self-test")[1].split("## ")[0]
    assert [int(code) for code in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)] == [int(code) for code in Code]


@pytest.mark.parametrize("code", list(Code))
def test_every_code_has_a_sentence_of_its_own(code):
    text = sentence(Finding(code, 1, 0, 300))
    assert text.endswith(".")
    assert "does not know" not in text
    assert is_fault(Finding(code, 0, 0, 0)) == (code < FIRST_FIGURE)
    if code < FIRST_FIGURE:
        assert ":" in text  # what is wrong: what to do
    assert len({sentence(Finding(other, 1, 0, 300)) for other in Code}) == len(Code)


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        (Finding(1, 3, 4, 0), "Rows 3 and 4 are joined"),
        (Finding(5, 2, 0, 8192), "Column 2 reads 50 % of the ADC's range on an empty mat"),
        (Finding(7, 1, 0, 200), "right panel's columns conduct sideways (about 20 kΩ between neighbours): cut"),
        (Finding(8, 6, 0, 65535), "Column 6 has no pull-down resistor"),
        (Finding(11, 0, 0, 24), "too short for the multiplexer: set settle_us to 24."),
        (Finding(11, 1, 0, 201), "after a row has switched do not settle within 200 µs"),
        (Finding(11, 2, 0, 20), "Set row_settle_us to 20, or to 0 for what the mat measures"),
        (Finding(11, 2, 0, 251), "do not settle within 200 µs"),
        (Finding(25, 0, 0, 16), "at their level 16 µs after a row has moved"),
        (Finding(12, 0, 3, 0), "S0 and S3 are swapped: exchange these two wires"),
        (Finding(13, 1, 1, 0), "S1 is always high"),
        (Finding(14, 0, 0, 200), "noisy (12.5 steps of 4096, rms)"),
        (Finding(15, 5, 0, 9420), "Column 5's resistor measures 9.42 kΩ"),
        (Finding(16, 0, 0, 1130), "One scan takes 1.13 ms."),
        (Finding(17, 0, 0, 9000), "140 KiB"),
        (Finding(18, 0, 0, 950), "950 scans started less than 10 µs late"),
        (Finding(18, 3, 0, 2), "2 scans started 50 to 100 µs late"),
        (Finding(18, 7, 0, 1), "1 scans started 1000 µs late or more"),
        (Finding(22, 1, 0, 130), "130 Ω together when low"),
        (Finding(40, 1, 2, 3), "figure 40 (1, 2, 3), which this program does not know"),
        (Finding(0, 0, 0, 0), "No multiplexer answers"),
    ],
)
def test_what_a_finding_says(finding, words):
    assert words in sentence(finding)


def test_many_joined_rows_are_one_sentence():
    pairs = [Finding(1, a, a + 1, 0) for a in range(4)]
    told = faults([*pairs, Finding(10, 9, 0, 0), Finding(16, 0, 0, 900)])
    assert told[0].startswith("Rows 0, 1, 2, 3 and 4 are joined among each other: dry the mat")
    assert told[1].startswith("Row 9 is held high")
    assert len(told) == 2
    assert len(faults(pairs[:3])) == 3


def test_restarts():
    assert restart_sentence(0) is None
    told = [restart_sentence(code) for code in Restart if code]
    assert len(set(told)) == 5
    assert "supply sagged" in restart_sentence(3)
    assert restart_sentence(77) == restart_sentence(2)
