"""The self-test's findings that presses cannot explain: film that was not cut, a settle time, noise, a stuck line."""

from __future__ import annotations

from collections.abc import Sequence

from groundtone.build.faults import PANELS, Fault, Kind, Namer
from groundtone.wire.messages import Finding

# What explains a finding: where one of these faults has been named, the finding says nothing new.
EXPLAINED = {
    3: {Kind.ZERO, Kind.ADDRESS},
    4: {Kind.DIVIDER, Kind.ADDRESS},
    5: {Kind.NO_PULLDOWN, Kind.CELL_STUCK, Kind.ADDRESS, Kind.PULLDOWN, Kind.COLUMNS_JOINED},
    6: {Kind.REFERENCE, Kind.SERIES, Kind.TAP_OPEN, Kind.ADDRESS, Kind.DIVIDER, Kind.CELL_STUCK, Kind.ROW_OPEN},
    7: {Kind.PULLDOWN, Kind.COLUMNS_JOINED, Kind.NO_PULLDOWN, Kind.ZERO, Kind.REFERENCE},
    8: {Kind.NO_PULLDOWN, Kind.PULLDOWN, Kind.ADDRESS, Kind.REFERENCE, Kind.ZERO},
    9: {Kind.PULLDOWN, Kind.ADDRESS, Kind.REFERENCE, Kind.ZERO},
    11: {Kind.SERIES, Kind.TAP_OPEN, Kind.ADDRESS, Kind.DIVIDER, Kind.ZERO, Kind.ROW_OPEN},
    12: {Kind.ADDRESS, Kind.DIVIDER, Kind.TAP_OPEN, Kind.ZERO},
    13: {Kind.DIVIDER, Kind.TAP_OPEN, Kind.ZERO, Kind.SERIES, Kind.REFERENCE, Kind.ROW_OPEN},
    15: {Kind.PULLDOWN, Kind.COLUMNS_JOINED, Kind.NO_PULLDOWN, Kind.ADDRESS, Kind.REFERENCE},
}  # fmt: skip


def finding_faults(findings: Sequence[Finding], known: Sequence[Fault], namer: Namer) -> list[Fault]:
    """Faults of the self-test that are not explained by those known already.

    Parameters
    ----------
    findings : sequence of Finding
    known : sequence of Fault
    namer : Namer
    """
    kinds = {f.kind for f in known}
    out = []
    for f in findings:
        if f.code < 16 and not kinds & EXPLAINED.get(f.code, set()):
            fault = _fault(f, namer)
            if fault is not None:
                out.append(fault)
    return out


def _fault(f: Finding, namer: Namer) -> Fault | None:
    column = namer.column(f.a)
    sentences: dict[int, tuple[str, str]] = {
        3: ("The 0 V input reads too high.", "Solder the multiplexer's input 8 to ground."),
        4: ("Half the supply reads wrong.", "Measure the divider's two resistors, the 3.3 V and the ADC's reference."),
        5: (f"C{column[1:]} reads high on an empty mat.", "Look along it for a crumb, damp, or a short to a row."),
        6: (
            "Row 0's driver comes out wrong.",
            "Measure row 0's 100 Ω and the 1 kΩ to the pin REF without power.",
        ),
        8: (f"C{column[1:]} has no pull-down.", "Solder its resistor to ground, or its joint again."),
        9: (f"C{column[1:]} is shorted to 0 V.", "Look for a bridge to ground at its resistor and at the multiplexer."),
        11: (
            f"The settle time is too short: {f.value if f.value < 201 else 'more than 200'} µs would do.",
            "Set it: it is the mat's setting settle_us; if it needs more than 20 µs, shorten the cable.",
        ),
        12: (f"Address lines S{f.a} and S{f.b} seem exchanged.", "Look at the four address wires."),
        13: (f"The multiplexer's address line S{f.a} is stuck.", "Look at its wire, and for a bridge beside it."),
        14: (
            f"The converter's noise is {f.value / 16:.0f} steps.",
            "Try another USB supply and cable, and keep the mat's ADC wires away from the radio.",
        ),
        15: (
            f"The pull-down of {column} is about {f.value} Ω, unlike the others.",
            "Measure it without power; all pull-downs are to be 1 % parts of one value.",
        ),
    }  # fmt: skip
    if f.code == 7:
        return namer.other(
            f"The film of the {PANELS[f.a]} panel conducts sideways, about {f.value / 10:.1f} kΩ between columns.",
            "Cut it into one strip a column: an uncut sheet is refused, for it costs force without being seen.",
            (f.a,), Kind.FILM_UNCUT,
        )  # fmt: skip
    if f.code not in sentences:
        return None
    sentence, remedy = sentences[f.code]
    return namer.other(sentence, remedy, (f.a,), Kind.SETTLE if f.code == 11 else Kind.OTHER)
