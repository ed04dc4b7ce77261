"""Links by name, mats by sight: which of them is meant, and the sentence when none or two are."""

import sys
from pathlib import Path

import pytest
from air import mat_on_air

sys.path.append(str(Path(__file__).parents[1] / "firmware"))

from groundtone.errors import LinkError
from groundtone.link import find
from groundtone.link.ble_link import BleLink
from groundtone.link.radio import radio_running
from groundtone.link.scan import Heard, mats_heard, the_mat
from groundtone.link.serial_link import SerialLink
from groundtone.link.uri import open_link, split_uri

ONE = Heard("F0:F1:F2:F3:F4:F5", "bay 3 a1b2c3", -40, None)
TWO = Heard("E0:F1:F2:F3:F4:F5", "bay 3 d4e5f6", -60, None)


@pytest.mark.parametrize(
    ("uri", "parts"),
    [
        ("serial:/dev/ttyACM0", ("serial", "/dev/ttyACM0")),
        ("/dev/serial/by-id/usb:1", ("serial", "/dev/serial/by-id/usb:1")),
        ("COM5", ("serial", "COM5")),
        ("C:\\mat", ("serial", "C:\\mat")),
        ("ble:", ("ble", "")),
        ("ble:AA:BB:CC:DD:EE:FF", ("ble", "AA:BB:CC:DD:EE:FF")),
        ("replay:session.mcap", ("replay", "session.mcap")),
        ("twin:7", ("twin", "7")),
    ],
)
def test_names_of_links(uri, parts):
    assert split_uri(uri) == parts


@pytest.mark.parametrize(
    ("uri", "words"),
    [("blue:x", "names no link: it begins with serial:, ble:"), ("serial:", "names no place"), ("replay:", "no place")],
)
def test_names_of_nothing(uri, words):
    with pytest.raises(LinkError, match=words):
        split_uri(uri)


def test_kinds_that_are_not_available_say_so(scripted):
    with pytest.raises(LinkError, match="Bluetooth is not available to this command"):
        open_link("ble:bay 3")
    with pytest.raises(LinkError, match="twin: is not available"):
        open_link("twin:1")
    assert open_link("twin:1", others={"twin": lambda place: f"the twin {place}"}) == "the twin 1"
    with open_link(f"serial:{scripted().port}") as link:
        assert isinstance(link, SerialLink)


def test_which_mat_is_meant():
    for word in ("bay 3 a1b2c3", "a1b2c3", "A1B2C3", "00112233aaa1b2c3", ONE.address, ONE.address.lower()):
        assert the_mat([ONE, TWO], word) is ONE
    assert the_mat([TWO]) is TWO
    for word in ("bay 3", ""):
        with pytest.raises(LinkError, match=r"more than one mat is in reach .*bay 3 a1b2c3 .*bay 3 d4e5f6 .*: name"):
            the_mat([ONE, TWO], word)
    with pytest.raises(LinkError, match="'bay 4' is not heard; others are: bay 3 a1b2c3, bay 3 d4e5f6"):
        the_mat([ONE, TWO], "bay 4")


def ports(monkeypatch, *names):
    monkeypatch.setattr(find, "usb_ports", lambda: [(name, "board") for name in names])


def test_the_cable_comes_first_and_then_the_radio(monkeypatch, scripted):
    with mat_on_air({}, world="plain_world:PlainWorld") as (process, radio):
        ports(monkeypatch, process.port)
        with find.open_any(radio, 3.0) as link:
            assert isinstance(link, SerialLink)
            uid = link.hello.uid
        ports(monkeypatch)
        with find.open_any(radio, 3.0) as link:
            assert (type(link), link.hello.uid) == (BleLink, uid)
        # Lost at its port: another mat has taken it, and the same one is found on the radio.
        stranger = scripted()
        with find.open_again(uid, stranger.port, radio, 3.0) as link:
            assert (type(link), link.hello.uid) == (BleLink, uid)
        process.away()
        with pytest.raises(LinkError, match=r"no mat was found \(no serial port on USB; none is heard on Bluetooth\)"):
            find.open_any(radio, 0.3)
        with pytest.raises(LinkError, match=r"is not back \(at .* is another mat, scripted; the mat .* is not heard"):
            find.open_again(uid, stranger.port, radio, 0.3)


def test_a_computer_without_bluetooth_says_what_to_do(monkeypatch):
    class NoScanner:
        def __init__(self, *_, **__):
            raise OSError("no adapter")

    with radio_running(NoScanner) as radio:
        with pytest.raises(LinkError, match=r"Bluetooth cannot be used on this computer \(no adapter\)"):
            mats_heard(radio, 0.2)
        ports(monkeypatch)
        with pytest.raises(LinkError, match=r"no serial port on USB; no Bluetooth on this computer\): plug it in"):
            find.open_any(radio, 0.2)
    with pytest.raises(LinkError, match=r"no mat was found \(no serial port on USB\): plug it in"):
        find.open_any(None)
