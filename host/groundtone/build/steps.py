"""The order of work, step by step, with minutes computed from the number of strips, joints and pads.

The minutes are estimates of ours for a first build; nobody has timed them yet.
"""

from __future__ import annotations

from dataclasses import dataclass

from groundtone.build.mat_file import Mat
from groundtone.build.parts import film_pieces


@dataclass(frozen=True)
class Step:
    """One step: what to do, with which drawing, how long, and what must be true at its end."""

    title: str
    how: str
    drawing: str
    minutes: int
    done_when: str


def first_hour(mat: Mat) -> list[Step]:
    """From an empty table to one panel that is heard: the left one, without pads, the board on a breadboard."""
    layout = mat.layout
    strips, joints = layout.rows + layout.columns_per_panel, 2 * (layout.rows + layout.columns_per_panel) + 12
    return [
        Step("Print", "Print at 100 %, measure the 100 mm line, join the pages at the crosses.",
             "all-a4.pdf or all-letter.pdf, left panel", 5, "the line measures 100 mm"),
        Step("Film", "Lay film between two strips, a pad on it, two weights in turn; read the multimeter.",
             "none", 5, "`groundtone build divider --at KG OHM --at KG OHM` refuses nothing"),
        Step("Strips", "A wire on each tail first; rows on the lower foil, columns on the upper one over the mirrored "
             "sheet.",
             "left-2-rows, left-4-columns-from-below", round(0.6 * strips), "every strip is under 1 Ω end to end"),
        Step("Film strips", "Cut one strip a column, seams between rows; fix each end with tape.",
             "left-3-film", round(0.8 * film_pieces(mat)[0] / 2), "no film touches its neighbour"),
        Step("Board", "Copy the firmware; board, multiplexer, resistors and the tails' wires on a breadboard; 5 V to "
             "ground is over 10 kΩ before you plug it in, at a computer's port.",
             "schematic", 8 + round(0.35 * joints), "`groundtone doctor` finds the mat"),
        Step("Stack", "Foils face to face on any stiff board, the cover's rubber on top; pads come later (see below).",
             "none", 6, "every press of a finger is seen"),
    ]  # fmt: skip


def steps(mat: Mat) -> list[Step]:
    """The whole build after the first hour, both panels, to a mat that passes its self-test."""
    layout = mat.layout
    strips = 2 * (layout.rows + layout.columns_per_panel)
    pieces, cells = film_pieces(mat)[0], layout.cells
    joints = 2 * strips + 3 * (layout.rows + layout.columns) + 30
    return [
        Step("Base plates", "Saw both plates with their notch, drill the holes, break edges; anti-slip sheet under "
             "all.", "1-base", 40, "the sheet's outline and the plate agree within 1 mm, and nothing rocks"),
        Step("Rim", "Saw rim and lids, glue the rim to the plate on off-cuts of foil and film, as high as foils, film, "
             "buttons and pads together; drill its holes; the foils lie inside it.",
             "1-base, 1-rim", 15, "it is firm, and its holes are the plate's"),
        Step("Row strips", "Lower foil taped to the plate, copper on it; solder each tail's wire before you stick it.",
             "2-rows", round(0.9 * 2 * layout.rows), "end to end under 1 Ω, to the neighbour open (over 10 MΩ)"),
        Step("Film strips", "Cut, never wider than the sheet says; one a column, seams between rows, butt to butt.",
             "3-film", round(1.0 * pieces), "strip to strip open; the film lies flat"),
        Step("Column strips", "Two layers of tape on the upper foil over the mirrored sheet, wires first; it looks "
             "down.", "4-columns-from-below, 4-columns", round(1.2 * 2 * layout.columns_per_panel),
             "crosses of sheet 4 lie over the crosses of sheet 3 within 1 mm"),
        Step("Pads", "Pads on sheet 5, the cover glued on them; turn it over, a button on each pad; lids to the cover.",
             "5-pads, 6-cover, 1-rim", round(0.6 * cells),
             "pads and buttons lift off with the cover, and no pad touches another"),
        Step("Ribbons", "Wires to the ribbon along the outer edge, out by the notch; tied down there, 20 mm slack.",
             "wiring table, labels", round(0.9 * strips), "each plug contact to its strip under 2 Ω"),
        Step("Board", "Solder resistors, suppressors, multiplexer; leave the chip's board in sockets.",
             "schematic, wiring table", round(0.5 * joints),
             "R to R open, C to ground the pull-down, 5 V to ground open"),
        Step("USB lead", "Cut the red wire 100 mm before the board's plug, solder the fuse in, sleeve it; no other "
             "wire.", "schematic", 10, "red end to end under 2 Ω, red to black open"),
        Step("Power bank", "Only for one that switches off: 5 V to ground measured, fit the resistor of 1 W.",
             "schematic, wiring table", 5, "over 10 kΩ before, the resistor's value after"),
        Step("Strike sensor", "Disc under the ball strip's edge at the golfer, 2 m of lead, clamp at the board.",
             "ball-strip, schematic", 25, "a tap shows, a step beside it does not"),
        Step("Cover and marks", "Cover glued to the rim, marks on it, bevels along all edges; base rule, laminated, "
             "under the left panel.", "6-cover, base-rule", 35,
             "no copper can be touched; pushed by the palm, pads go with the cover and no further than 1 mm"),
        Step("Ball's strip and anchoring", "Turf on it, high as the panels, bevelled, pegged; box and leads behind, "
             "flat and taped.", "ball-strip", 15, "a hard sideways push moves nothing, and no lead catches a toe"),
        Step("Commissioning", "`groundtone build commission`", "commissioning.md", 35, "it says so, and stores a page"),
        Step("Calibration", "A known weight on every cell, or the person who rocks, see calibration/README.md.",
             "6-cover", round(0.35 * cells) + 10, "the profile is stored"),
    ]  # fmt: skip


def total_minutes(work: list[Step]) -> int:
    """Minutes of some steps together."""
    return sum(step.minutes for step in work)


def table(mat: Mat) -> str:
    """The steps as Markdown."""
    out = [f"Order of work for {mat.layout.id}. Minutes are estimates for a first build.", ""]
    for title, work in (("The first hour: one panel is heard", first_hour(mat)), ("The whole mat", steps(mat))):
        hours = total_minutes(work) / 60
        out += [
            f"**{title}** (about {hours:.1f} h)",
            "",
            "| step | what | drawing | minutes | done when |",
            "|---|---|---|---|---|",
        ]
        out += [f"| {s.title} | {s.how} | {s.drawing} | {s.minutes} | {s.done_when} |" for s in work]
        out.append("")
    return "\n".join(out)
