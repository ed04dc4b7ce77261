"""Clubs as people write them, and the bands of their classes."""

import pytest

from groundtone.swing.bands import default_bands
from groundtone.swing.clubs import CLUBS, club_class


@pytest.mark.parametrize(
    ("names", "kind"),
    [
        ("driver|Driver 10.5|1w|Holz 1|1 wood|10.5°|9 deg", "driver"),
        ("3w|W3|3-wood|Holz 3|Fairwayholz 5|18°", "wood"),
        ("5h|H4|4 hybrid|Hybrid", "hybrid"),
        ("7|7 iron|7-iron|i7|7i|Eisen 7|7er Eisen|E7|driving iron|34°|my favourite", "iron"),
        ("PW|SW|56|56°|60 deg|sand wedge|Sandwedge|lob|LW 60|Gap-Wedge|pitching wedge|52 grad", "wedge"),
        ("putter|Putter 34|PT", "putter"),
        ("|  ", ""),
    ],
)
def test_names_as_people_write_them(names, kind):
    assert {name: club_class(name) for name in names.split("|")} == dict.fromkeys(names.split("|"), kind)


def test_every_class_has_a_setup_and_a_putt_has_nothing_else():
    bands = default_bands()
    for kind in CLUBS:
        band = bands.band("setup_side").for_club(kind)
        assert band.low < band.usual < band.high
    assert [band.name for band in bands.findings if "putter" not in band.not_for] == ["setup_side", "setup_heel_toe"]
    assert bands.band("trail").for_club("driver").low < bands.band("trail").low


def test_a_shank_is_not_asked_about_the_low_point():
    bands = default_bands()
    assert bands.poor(["clean"] * 6 + ["fat", "topped"])
    assert bands.poor(["clean"] * 6 + ["fat", "topped"] + ["shank"] * 20)
    assert not bands.poor(["clean"] * 6 + ["shank"] * 9)
