"""What must not be built so: bevels, box, ball's strip, feed and glue; each is refused with the value that mends it.

Sources
-------
ADA Standards for Accessible Design (2010): a change in level of up to 1/4 in (6.4 mm) may be vertical (303.2), one of
up to 1/2 in (12.7 mm) is bevelled, not steeper than 1 : 2 (303.3), a higher one is a ramp (303.4), not steeper than
1 : 12 (405.2). It is a standard for buildings: here it is a measure of what trips nobody.

The club's head meets the ground on an arc; `ARC_MM` is its radius near the ball (estimate: an iron and the arms). At a
distance x along the line it is x² / 2R high: 7.5 mm at 150 mm, 30 mm at 300 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groundtone.build.entries import within

ARC_MM = 1500.0
LEAST_STRIP_MM = (600.0, 300.0)
"""Length along the line and depth of the ball's strip."""
FREE_MM = 150.0
"""Nothing hard lies nearer to the ball's line: disc, pegs, edges."""
LEAST_BOX_MM = 600.0
"""From the heels' edge to the box and the power bank: out of a club's way, and of a step back."""
FUSE_A = (0.3, 0.75)
"""A board with radio takes 0.3 A at moments (from memory); USB 2.0 gives 0.5 A."""
DISC_MM = 27.0
"""Diameter of the piezo disc."""


@dataclass(frozen=True)
class Ground:
    """What lies around the panels, mm.

    Attributes
    ----------
    bevel_mm : float
        Width of the wedge along every edge; 0: what the height asks for.
    box_behind_mm : float
        From the heels' edge to box and power bank.
    strip_length_mm, strip_depth_mm : float
        The ball's strip, along the ball's line and across it.
    ball_mm, disc_mm : float
        From the strip's edge at the golfer to the ball's line, and to the middle of the strike sensor's disc.
    """

    bevel_mm: float = within(0, 500, "mm", usual=0.0)
    box_behind_mm: float = within(0, 3000, "mm", usual=650.0)
    strip_length_mm: float = within(0, 3000, "mm", usual=600.0)
    strip_depth_mm: float = within(0, 2000, "mm", usual=400.0)
    ball_mm: float = within(0, 1500, "mm", usual=210.0)
    disc_mm: float = within(0, 1500, "mm", usual=42.0)


def bevel_for(height_mm: float) -> float:
    """Least width of the bevel of an edge, mm."""
    if height_mm <= 6.4:
        return 0.0
    return (2.0 if height_mm <= 12.7 else 12.0) * height_mm


def arc_mm(along_mm: float) -> float:
    """How high over the ground the club's head is at a distance from where it is lowest, mm."""
    return ARC_MM - math.sqrt(ARC_MM**2 - min(along_mm, ARC_MM) ** 2)


def strip_for(height_mm: float) -> float:
    """Least length of the ball's strip, mm: its end stays as far under the arc as the strip is high.

    So a shot that is too deep by the strip's whole height still clears its end.
    """
    return max(LEAST_STRIP_MM[0], 2 * math.sqrt(ARC_MM**2 - (ARC_MM - 2 * height_mm) ** 2))


def ground_refusals(ground: Ground, height_mm: float) -> list[str]:
    """Sentences: what trips or is hit."""
    out = []
    bevel, length = bevel_for(height_mm), strip_for(height_mm)
    if 0 < ground.bevel_mm < bevel:
        slope = "1 : 2" if bevel <= 2.001 * height_mm else "1 : 12, as a ramp,"
        out.append(
            f"a bevel of {ground.bevel_mm:g} mm trips people on an edge of {height_mm:.1f} mm, which asks for {slope} "
            f"(ADA 303): ground.bevel_mm = {math.ceil(bevel)} at least"
        )
    if ground.box_behind_mm < LEAST_BOX_MM:
        out.append(
            f"box and power bank {ground.box_behind_mm:g} mm behind the heels are stepped on or hit: "
            f"ground.box_behind_mm = {LEAST_BOX_MM:g} at least"
        )
    if ground.strip_length_mm < length:
        end = ground.strip_length_mm / 2
        out.append(
            f"the end of the ball's strip, {end:g} mm from the ball and {height_mm:.1f} mm high, stands where the "
            f"club is {arc_mm(end):.1f} mm high: ground.strip_length_mm = {math.ceil(length)} at least"
        )
    depth = max(LEAST_STRIP_MM[1], ground.ball_mm + FREE_MM)
    if ground.strip_depth_mm < depth:
        out.append(
            f"a strip {ground.strip_depth_mm:g} mm deep has its edge within {FREE_MM:g} mm of the ball's line: "
            f"ground.strip_depth_mm = {math.ceil(depth)} at least"
        )
    if (free := ground.ball_mm - ground.disc_mm - DISC_MM / 2) < FREE_MM:
        most = ground.ball_mm - DISC_MM / 2 - FREE_MM
        mend = f"ground.disc_mm = {most:g} at most" if most > DISC_MM / 2 else "ground.ball_mm = 210"
        out.append(f"the strike sensor's disc lies {free:g} mm from the ball's line, in the club's way: {mend}")
    return out


def power_refusals(feed: str, fuse_a: float) -> list[str]:
    """Sentences: how the board must not be fed."""
    out = []
    if feed != "usb":
        out.append(
            f"the board is not fed by {feed!r}: a lithium cell at VSYS is charged without control as soon as the USB "
            'lead is plugged in; power.feed = "usb", from a port, a charger with its marks or a power bank'
        )
    if not FUSE_A[0] <= fuse_a <= FUSE_A[1]:
        why = "goes out by itself" if 0 < fuse_a < FUSE_A[0] else "lets a shorted lead burn"
        out.append(f"a fuse of {fuse_a:g} A {why}: power.fuse_a = 0.5, in the red wire of the USB lead")
    return out


def glue_refusals(pads_to: str, buttons_to: str) -> list[str]:
    """Sentences: what a swing's shear would rub."""
    if (pads_to, buttons_to) == ("cover", "pads"):
        return []
    return [
        f"pads glued to {pads_to!r} and buttons to {buttons_to!r}: a swing's shear would rub film on copper; "
        'stack.pads_glued_to = "cover", stack.buttons_glued_to = "pads", and nothing else'
    ]
