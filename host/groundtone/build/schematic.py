"""The schematic of a mat, drawn: rows, columns and multiplexer, references, strike sensor."""

from __future__ import annotations

from typing import Any, Literal

import schemdraw
import schemdraw.elements
from matplotlib import rc_context
from schemdraw.backends.svg import config as svg_text

from groundtone.build.eseries import in_words
from groundtone.build.layout_check import check
from groundtone.build.mat_file import Mat
from groundtone.build.pins import Pins
from groundtone.build.wiring import (
    BUZZER_OHM,
    DIVIDER_OHM,
    PIN_OHM,
    SOUND_OHM,
    STRIKE_LEAD_M,
    STRIKE_LEAK_OHM,
    awake_ohm,
    fuse,
)  # fmt: skip
from groundtone.mat.layout import Layout

elm: Any = schemdraw.elements  # its classes carry no types

_FONT = 11
_STEP = 2.2  # between lines
_COLUMNS_X = 15.5  # where the second half begins
_GROUND_SCALE = 0.7


def schematic(mat: Mat, form: str) -> bytes:
    """The drawing as a file.

    Parameters
    ----------
    form : str
        "svg" or "png".

    Raises
    ------
    BuildError
        Where the grid does not fit the board.
    """
    pins = check(mat).pins
    if form == "png":
        with rc_context({"savefig.dpi": 60}):
            return bytes(_draw(mat, pins, "matplotlib").get_imagedata("png"))
    svg_text.text = "text"
    return bytes(_draw(mat, pins, "svg").get_imagedata("svg"))


def _draw(mat: Mat, pins: Pins, canvas: Literal["svg", "matplotlib"]) -> Any:
    schemdraw.use(canvas)
    drawing: Any = schemdraw.Drawing(show=False)
    drawing.config(fontsize=_FONT, unit=2.2, lw=1.3, bgcolor="white")
    title = f"{mat.layout.id} with board {mat.board}"
    drawing += elm.Label().at((0, 2.4)).label(title, loc="right", halign="left", fontsize=14)
    _rows(drawing, mat, pins)
    _columns(drawing, mat, pins)
    _strike(drawing, mat, pins)
    _feed(drawing, mat, pins)
    return drawing


def _name(drawing: Any, x: float, y: float, text: str) -> None:
    drawing += elm.Dot(open=True).at((x, y)).label(text, loc="left", halign="right")


def _end(drawing: Any, x: float, y: float, text: str) -> None:
    drawing += elm.Dot(open=True).at((x, y)).label(text, loc="right", halign="left")


def _suppressor(drawing: Any, x: float, y: float) -> None:
    drawing += elm.Dot().at((x, y))
    drawing += elm.Zener().at((x, y - 1.1)).to((x, y)).scale(0.6)
    drawing += elm.GroundSignal().at((x, y - 1.1)).scale(_GROUND_SCALE)


def _dots(drawing: Any, x: float, y: float) -> None:
    for k in range(3):
        drawing += elm.Dot(radius=0.05).at((x, y - 0.3 * k))


def _rows(drawing: Any, mat: Mat, pins: Pins) -> None:
    layout = mat.layout
    series = in_words(mat.electrical.series_ohm)
    drawing += elm.Label().at((0, 1.4)).label("Rows: to both panels", loc="right", halign="left", fontsize=12)
    x = 3.2
    shown = [0, 1, layout.rows - 1]
    for place, row in enumerate(shown):
        y = -_STEP * (place + (1 if place == 2 else 0)) if place < 2 else -_STEP * 3
        _name(drawing, x, y, pins.where(pins.rows[row]))
        drawing += elm.Resistor().at((x, y)).to((x + 2.4, y)).label(series)
        drawing += elm.Line().at((x + 2.4, y)).to((x + 6.6, y))
        _suppressor(drawing, x + 5.4, y)
        _end(drawing, x + 6.6, y, f"R{row}")
    if layout.rows > 3:
        _dots(drawing, x + 1.2, -_STEP * 2.0)
        drawing += (
            elm.Label()
            .at((x + 1.6, -_STEP * 2.13))
            .label(f"R2 to R{layout.rows - 2} alike (see the pin table)", loc="right", halign="left")
        )
    # The reference resistor and the tap, on the line of row 0.
    y = -_STEP * 4.4
    _name(drawing, x, y, pins.where(pins.ref))
    drawing += elm.Resistor().at((x, y)).to((x + 2.4, y)).label(in_words(mat.electrical.reference_ohm))
    drawing += elm.Line().at((x + 2.4, y)).to((x + 3.4, y))
    _end(drawing, x + 3.4, y, f"line of R0, which also goes to multiplexer I{pins.tap} (tap)")


def _columns(drawing: Any, mat: Mat, pins: Pins) -> None:
    layout: Layout = mat.layout
    before, behind = in_words(mat.electrical.input_ohm), in_words(mat.electrical.output_ohm)
    x0 = _COLUMNS_X
    pulldown = in_words(mat.electrical.pulldown_ohm)
    drawing += elm.Label().at((x0, 1.4)).label("Columns: one each", loc="right", halign="left", fontsize=12)
    half = layout.columns_per_panel
    shown = [(0, "left panel"), (half, "right panel")]
    chip_x = x0 + 8.6
    inputs = [f"I{c}" for c, _ in shown] + [f"I{pins.zero}", f"I{pins.supply}", f"I{pins.tap}"]
    slots = len(inputs)
    left = [
        elm.IcPin(name=name, side="left", slot=f"{slots - k}/{slots}", anchorname=name) for k, name in enumerate(inputs)
    ]
    right_names = ["VCC", "Z", "S0", "S1", "S2", "S3", "E", "GND"]
    right = [
        elm.IcPin(name=name, side="right", slot=f"{8 - k}/8", anchorname=name) for k, name in enumerate(right_names)
    ]
    height = _STEP * slots
    chip = elm.Ic(pins=[*left, *right], size=(3.2, height), leadlen=0.6).label("74HC4067\n16 : 1", loc="center")
    drawing += chip.anchor(inputs[0]).at((chip_x, 0))
    for k, (column, panel) in enumerate(shown):
        y = getattr(chip, inputs[k]).y
        _name(drawing, x0 + 2.2, y, f"C{column}\n{panel}")
        drawing += elm.Line().at((x0 + 2.2, y)).to((x0 + 6.6, y))
        drawing += elm.Resistor().at((x0 + 6.6, y)).to((chip_x, y)).label(before).scale(0.8)
        _suppressor(drawing, x0 + 3.6, y)
        drawing += elm.Dot().at((x0 + 5.4, y))
        drawing += elm.Resistor().at((x0 + 5.4, y)).to((x0 + 5.4, y - 1.5)).label(pulldown, loc="bottom").scale(0.8)
        drawing += elm.GroundSignal().at((x0 + 5.4, y - 1.5)).scale(_GROUND_SCALE)
    y = getattr(chip, inputs[2]).y
    drawing += elm.Resistor().at((chip_x - 2.0, y)).to((chip_x, y)).label(before).scale(0.8)
    drawing += elm.GroundSignal().at((chip_x - 2.0, y)).scale(_GROUND_SCALE)
    y = getattr(chip, inputs[3]).y
    at = x0 + 4.2
    drawing += elm.Line().at((chip_x, y)).to((at, y))
    drawing += elm.Dot().at((at, y))
    drawing += elm.Resistor().at((at, y)).to((at, y + 1.3)).label(in_words(DIVIDER_OHM), loc="top").scale(0.8)
    drawing += elm.Vdd().at((at, y + 1.3)).label("3V3").scale(_GROUND_SCALE)
    drawing += elm.Resistor().at((at, y)).to((at, y - 1.3)).label(in_words(DIVIDER_OHM), loc="bottom").scale(0.8)
    drawing += elm.GroundSignal().at((at, y - 1.3)).scale(_GROUND_SCALE)
    y = getattr(chip, inputs[4]).y
    drawing += elm.Resistor().at((chip_x - 2.0, y)).to((chip_x, y)).label(before).scale(0.8)
    _name(drawing, chip_x - 2.0, y, "line of R0 (tap)")
    ends = {
        "VCC": "3V3, 100 nF to ground here and at the board", "Z": f"{behind} to {pins.where(pins.adc)}",
        "E": "ground", "GND": "ground",
        **{f"S{k}": pins.where(gpio) for k, gpio in enumerate(pins.address)},
    }  # fmt: skip
    for name in right_names:
        spot = getattr(chip, name)
        _end(drawing, spot.x, spot.y, ends[name])
    drawing += elm.Label().at((x0, getattr(chip, inputs[1]).y - 2.3)).label(
        f"The other columns alike:\n{pulldown}, suppressor, {before}\nbefore their number's input",
        loc="right", halign="left",
    )  # fmt: skip


def _strike(drawing: Any, mat: Mat, pins: Pins) -> None:
    y = -_STEP * 6.0
    drawing += (
        elm.Label()
        .at((0, y + 1.3))
        .label(
            f"Strike sensor: piezo, lead of {STRIKE_LEAD_M:g} m",
            loc="right",
            halign="left",
            fontsize=12,
        )
    )
    x = 1.2
    drawing += elm.Crystal().at((x, y)).to((x, y - 1.8))
    drawing += elm.GroundSignal().at((x, y - 1.8)).scale(_GROUND_SCALE)
    drawing += elm.Label().at((x + 0.3, y - 3.2)).label(
        f"shield and the disc's brass:\n{pins.power['AGND']}", loc="right", halign="left"
    )  # fmt: skip
    drawing += elm.Line().at((x, y)).to((x + 2.0, y))
    _suppressor(drawing, x + 0.9, y)
    drawing += elm.Dot().at((x + 2.0, y))
    drawing += elm.Resistor().at((x + 2.0, y)).to((x + 2.0, y - 1.8)).label(in_words(STRIKE_LEAK_OHM), loc="bottom")
    drawing += elm.GroundSignal().at((x + 2.0, y - 1.8)).scale(_GROUND_SCALE)
    drawing += elm.Resistor().at((x + 2.0, y)).to((x + 5.0, y)).label(in_words(mat.electrical.strike_series_ohm))
    node = x + 5.0
    pin = in_words(PIN_OHM)
    drawing += elm.Line().at((node, y)).to((node + 4.6, y))
    drawing += elm.Resistor().at((node + 4.6, y)).to((node + 6.6, y)).label(pin).scale(0.8)
    drawing += elm.Dot().at((node + 2.6, y))
    drawing += elm.Capacitor().at((node + 2.6, y)).to((node + 2.6, y - 1.5)).label("1 nF", loc="bottom").scale(0.7)
    drawing += elm.GroundSignal().at((node + 2.6, y - 1.5)).scale(_GROUND_SCALE)
    drawing += elm.Dot().at((node + 0.6, y))
    drawing += elm.Diode().at((node + 0.6, y - 1.5)).to((node + 0.6, y)).scale(0.7)
    drawing += elm.GroundSignal().at((node + 0.6, y - 1.5)).scale(_GROUND_SCALE)
    drawing += elm.Dot().at((node + 1.9, y))
    drawing += elm.Diode().at((node + 1.9, y)).to((node + 1.9, y + 1.3)).scale(0.7)
    drawing += elm.Vdd().at((node + 1.9, y + 1.3)).label("3V3").scale(_GROUND_SCALE)
    _end(drawing, node + 6.6, y, pins.where(pins.strike))
    base = node + 3.9
    drawing += elm.Dot().at((base, y))
    drawing += elm.Resistor().at((base, y)).to((base, y - 1.8)).label("100 kΩ", loc="bottom")
    drawing += elm.Line().at((base, y - 1.8)).to((base + 1.2, y - 1.8))
    transistor = elm.BjtNpn(circle=True).anchor("base").at((base + 1.2, y - 1.8)).right()
    drawing += transistor
    drawing += elm.GroundSignal().at(transistor.emitter).scale(_GROUND_SCALE)
    collector = transistor.collector
    drawing += elm.Resistor().at(collector).to((node + 7.6, collector.y)).label(pin).scale(0.8)
    _end(drawing, node + 7.6, collector.y, f"{pins.where(pins.edge)} (its own pull-up)")
    drawing += elm.Label().at((_COLUMNS_X + 2.6, y - 0.4)).label(
        f"Button (optional): {pins.where(pins.button)} to ground\n"
        f"Sound (optional): {pins.where(pins.buzzer)} through {in_words(BUZZER_OHM)} and the\n"
        f"buzzer to the earphone socket's switch; {in_words(SOUND_OHM[0])}\nand 10 µF to tip and ring, "
        f"{in_words(SOUND_OHM[1])} from there to ground",
        loc="right", halign="left",
    )  # fmt: skip


def _feed(drawing: Any, mat: Mat, pins: Pins) -> None:
    """The fuse in the USB lead's red wire, and what keeps a power bank awake."""
    x, y = _COLUMNS_X + 2.6, -_STEP * 7.6
    title = "Feed: a USB lead, nothing else"
    drawing += elm.Label().at((x, y + 1.3)).label(title, loc="right", halign="left", fontsize=12)
    _name(drawing, x + 1.4, y, "USB plug,\n5 V, red")
    drawing += elm.Fuse().at((x + 1.4, y)).to((x + 4.2, y)).label(fuse(mat))
    drawing += elm.Line().at((x + 4.2, y)).to((x + 7.0, y))
    _end(drawing, x + 7.0, y, pins.power["5V"])
    _name(drawing, x + 1.4, y - 2.0, "USB plug,\nblack")
    drawing += elm.Line().at((x + 1.4, y - 2.0)).to((x + 7.0, y - 2.0))
    _end(drawing, x + 7.0, y - 2.0, pins.power["GND"])
    if (ohm := awake_ohm(mat)) is not None:
        drawing += elm.Dot().at((x + 5.2, y))
        drawing += elm.Resistor().at((x + 5.2, y)).to((x + 5.2, y - 2.0)).scale(0.8)
        drawing += elm.Dot().at((x + 5.2, y - 2.0))
        off = f" ({in_words(ohm[1])} where the radio is off)" if ohm[1] else ""
        drawing += elm.Label().at((x, y - 3.1)).label(
            f"{in_words(ohm[0])}, 1 W{off}: fitted last, after 5 V was\nmeasured to ground, and only with a power bank "
            "that switches off", loc="right", halign="left",
        )  # fmt: skip
