"""Board limits and preferred numbers as the outside has them.

Sources: RP2040 data sheet, section 5.2.3, tables of digital IO and ADC characteristics (found in a public copy);
74HC4067 data sheet, limiting values (public copies of the 1993 and 2021 editions); IEC 60063 (series E12 and E24);
USB 2.0, table 5-9 (from memory); Raspberry Pi Pico data sheet, pinout.
"""

import pytest

from groundtone.build.board_limits import FACTS, MULTIPLEXER, limits_of
from groundtone.build.eseries import E12, E24, at_least, in_words, nearest
from groundtone.build.mat_file import read_mat
from groundtone.build.pins import known_boards
from groundtone.build.scan_budget import USB_BYTES_S
from groundtone.errors import BuildError


def test_the_rp2040s_pins():
    limits = limits_of("Raspberry Pi Pico W")
    assert limits.source_ma == 50.0  # IIOVDD_MAX: sum of all current being sourced by GPIO and QSPI pins
    assert limits.sink_ma == 50.0  # IIOVSS_MAX: sum of all current being sunk into GPIO and QSPI pins
    assert limits.pin_ma == 12.0  # VOH, VOL: IOH = 2, 4, 8 or 12 mA depending on setting
    assert limits.adc_bits == 12  # resolved bits
    assert limits.effective_bits == 9.0  # ENOB, simulated
    assert limits.pull_ohm == 80e3  # RPU: 50 to 80 kilo-ohms
    # At 12 mA a pin is at least at 2.62 V of 3.3 V, and at most at 0.50 V: both pins of the descriptions are near that.
    electrical = read_mat("reference").electrical
    assert 0.5 * electrical.pin_high_ohm < (3.3 - 2.62) / 12e-3 < 2 * electrical.pin_high_ohm
    assert 0.5 * electrical.pin_low_ohm < 0.5 / 12e-3 < 2 * electrical.pin_low_ohm


def test_the_rp2350s_pins():
    limits = limits_of("Raspberry Pi Pico 2 W")  # data sheet, tables 1436 and 1438
    assert (limits.pin_ma, limits.source_ma, limits.sink_ma) == (12.0, 100.0, 100.0)
    assert (limits.adc_bits, limits.effective_bits, limits.pull_ohm) == (12, 9.0, 86e3)


def test_the_multiplexers_switch():
    assert MULTIPLEXER.switch_ma == 25.0  # +-IS, DC switch current


def test_a_board_without_limits_is_refused():
    with pytest.raises(BuildError, match="not known"):
        limits_of("breadboard of dreams")
    with pytest.raises(BuildError, match="not supported yet: its converter would take 9 to 20 ms"):
        limits_of("ESP32-S3")


def test_every_board_of_the_firmware_has_limits_and_enough_pins():
    boards = known_boards()
    assert "Raspberry Pi Pico W" in boards
    assert set(boards) == set(FACTS)
    for pins in boards.values():
        single = [pins.ref, pins.adc, pins.strike, pins.edge, pins.buzzer, pins.button]
        used = [*pins.rows, *pins.address, *single]
        assert len(set(used)) == len(used)
        assert len(pins.address) == 4  # 16 inputs
        assert len({pins.zero, pins.supply, pins.tap, *range(pins.columns)}) == pins.columns + 3


def test_pins_of_the_pico_as_its_data_sheet_numbers_them():
    pins = known_boards()["Raspberry Pi Pico W"]
    # GP0 to GP22 go round the board in order, from pin 1 to pin 29; the pins left out are GND.
    in_order = [number for number in range(1, 30) if number not in (3, 8, 13, 18, 23, 28)]
    for gpio, number in enumerate(in_order):
        assert pins.where(gpio) == f"GP{gpio}, pin {number}"
    assert [pins.where(gpio) for gpio in (26, 27, 28)] == ["GP26, pin 31", "GP27, pin 32", "GP28, pin 34"]
    assert {26, 27} >= {pins.adc, pins.strike}  # ADC0 and ADC1


def test_preferred_numbers():
    assert E12 == (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    assert E24[::2] == E12
    assert E24[1::2] == (11, 13, 16, 20, 24, 30, 36, 43, 51, 62, 75, 91)
    assert nearest(980.0, E12) == 1000.0
    assert nearest(905.0, E12) == 820.0  # on a logarithmic scale: 1000 / 905 is more than 905 / 820
    assert nearest(906.0, E12) == 1000.0
    assert nearest(905.0, E24) == 910.0
    assert at_least(100.0, E12) == 100.0
    assert at_least(100.5, E12) == 120.0
    assert at_least(0.95e3, E12) == 1000.0
    assert [in_words(ohm) for ohm in (100.0, 1500.0, 1e6)] == ["100 Ω", "1.5 kΩ", "1 MΩ"]
    with pytest.raises(BuildError, match="no value to buy"):
        nearest(0.1, E12)


def test_full_speed_bulk():
    assert USB_BYTES_S == 1_216_000  # 19 packets of 64 bytes in a frame of 1 ms
