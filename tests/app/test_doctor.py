"""The doctor: what it finds, what it says to do, and its exit codes."""

from types import SimpleNamespace

import pytest

from groundtone.app.doctor import mat_troubles, radio_lines
from groundtone.errors import LinkError
from groundtone.link.scan import Heard
from groundtone.tone.devices import SoundCard
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario
from groundtone.wire.messages import Hello


@pytest.fixture
def usb(monkeypatch):
    """Puts ports on the (pretended) USB: usb(name, …); usb(("name", None)) is a port that is not on USB."""

    class Port(SimpleNamespace):
        def __lt__(self, other):
            return self.device < other.device

    def put(*names):
        pairs = [name if isinstance(name, tuple) else (name, 0x2E8A) for name in names]
        found = [Port(device=device, vid=vid, description="a board") for device, vid in pairs]
        monkeypatch.setattr("groundtone.link.find.list_ports.comports", lambda: found)

    put()
    return put


@pytest.fixture
def card(monkeypatch):
    monkeypatch.setattr("groundtone.app.doctor.list_devices", lambda: [SoundCard("Little Speaker", "ALSA", None)])


def test_without_a_mat_it_says_what_to_do(groundtone, usb, card):
    said = groundtone("doctor")
    assert said.code == 1
    lines = said.out.splitlines()
    assert [line for line in lines if line.startswith("  MEND")] == [
        "  MEND   no serial port on USB: plug the mat in (a charging cable without data wires shows nothing either)"
    ]
    assert lines[-1] == "1 to mend."
    assert "  fine   the firmware runs here on MicroPython" in lines
    assert "  fine   layouts: reference-16x4, starter-10x3" in lines
    assert any(line.startswith("  fine   numpy ") for line in lines)
    assert "  fine   Little Speaker (ALSA)" in lines


def test_without_a_sound_card_it_says_so(groundtone, usb, monkeypatch):
    monkeypatch.setattr("groundtone.app.doctor.list_devices", list)
    said = groundtone("doctor")
    assert said.code == 1
    assert "  MEND   no sound card: tones can be written to a file but not heard" in said.out
    assert said.out.splitlines()[-1] == "2 to mend."


def test_with_a_mat_everything_is_fine_and_other_ports_are_left_alone(groundtone, usb, card, scripted):
    elsewhere = scripted()
    with MatProcess(Scenario(MatSpec.reference(), Empty(60.0))) as process:
        port = process.port
        usb(port, (elsewhere.port, None))
        said = groundtone("doctor")
    assert said.code == 0, said.out
    assert said.out.splitlines()[-1] == "Everything is fine."
    (line,) = [line for line in said.out.splitlines() if f" at {port}: " in line]
    assert line.startswith("  fine   ")
    assert line.endswith("firmware 0.2.0, reference-16x4, id 67742d7477696e21")
    assert elsewhere.requests == []
    assert "MEND" not in said.out


def test_a_mat_with_joined_rows_and_a_stranger(groundtone, usb, card, scripted):
    stranger = scripted(silent=True)
    with MatProcess(Scenario(MatSpec.reference(joined_rows=((3, 4),)), Empty(60.0))) as process:
        usb(process.port, stranger.port)
        said = groundtone("doctor")
    assert said.code == 1
    assert "cannot prove that no two rows are joined: step off, let it dry, look for bridged strips" in said.out
    assert f"  MEND   what is at {stranger.port} does not answer as a mat" in said.out
    assert said.out.splitlines()[-1] == "2 to mend."


def hello(**changes):
    fields = {
        "wire": 1, "version": (0, 2, 0), "uid": "0" * 16, "rows": 16, "columns": 8, "bits": 14, "window": 16,
        "rate_min_hz": 1, "rate_max_hz": 200, "state": 0, "restart": 0, "board": "b", "layout": "reference-16x4",
        "name": "mat",
    }  # fmt: skip
    return Hello(**{**fields, **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, None),
        ({"version": (0, 2, 0)}, None),
        ({"state": 1}, None),
        ({"state": 2}, "mat cannot prove that no two rows are joined"),
        ({"version": (0, 0, 9)}, "mat runs older firmware: bring it up to date with 'groundtone build install'"),
        ({"layout": "own-9x9"}, "mat has a layout that is not known here: own-9x9"),
    ],
)
def test_what_is_wrong_with_a_mat_by_its_own_words(changes, words):
    troubles = mat_troubles(hello(**changes))
    assert len(troubles) == (words is not None)
    assert all(words in trouble for trouble in troubles)


def test_from_the_source_folder_it_still_runs(groundtone, usb, card, monkeypatch):
    import importlib.metadata

    def nowhere(name):
        raise importlib.metadata.PackageNotFoundError(name)

    monkeypatch.setattr("groundtone.app.doctor.importlib.metadata.version", nowhere)
    monkeypatch.setattr("groundtone.app.doctor.importlib.metadata.requires", nowhere)
    assert "  fine   groundtone from its source folder, not installed, wire version 1" in groundtone("doctor").out


def test_mats_on_bluetooth_are_named_and_a_weak_one_is_said(monkeypatch):
    heard = [Heard("F0:F1", "bay 3 a1b2c3", -50, None), Heard("E0:F1", "lawn d4e5f6", -90, None)]
    monkeypatch.setattr("groundtone.app.doctor.mats_heard", lambda radio: heard)
    assert radio_lines() == [
        ("bay 3 a1b2c3 on Bluetooth, -50 dBm: --port ble:a1b2c3", False),
        ("lawn d4e5f6 on Bluetooth, -90 dBm: --port ble:d4e5f6", False),
        ("lawn d4e5f6 is heard weakly, and frames will be lost: bring it closer", True),
    ]


def test_no_bluetooth_is_no_fault(monkeypatch):
    def none(radio):
        raise LinkError("Bluetooth cannot be used on this computer (no adapter)")

    monkeypatch.setattr("groundtone.app.doctor.mats_heard", none)
    ((line, mend),) = radio_lines()
    assert (line, mend) == ("Bluetooth cannot be used on this computer (no adapter); mats on a cable need none", False)
