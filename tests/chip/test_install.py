"""`build install` to the emulated board over its USB, by mpremote's own transport, until the mat sends its cells."""

import pytest
import truth
from cable import Cable

from groundtone.app.builder import build_install
from groundtone.app.command import main
from groundtone.link.serial_link import SerialLink
from groundtone.link.talk import MessageLink
from groundtone.mat.layout import layout_of
from groundtone.wire.messages import Frame

REPLY_S, LONG_S = 20.0, 300.0  # the board's time is not ours: it may pass a hundred times slower


@pytest.fixture
def patient(monkeypatch, tmp_path):
    """No limit of the host's own clock is met here."""
    monkeypatch.setattr(MessageLink, "least_reply_s", REPLY_S)
    for limit in ("PATIENCE_S", "PROMPT_S", "CHATTER_S", "ANSWER_S"):
        monkeypatch.setattr(build_install, limit, LONG_S)
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))


def install(capfd, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["build", "install", *arguments])
    said = capfd.readouterr()
    assert "Traceback" not in said.out + said.err
    return ended.value.code or 0, said.out


def twelve_cells(port):
    """What the first twelve cells read, asked for by the host's own link."""
    with SerialLink(port) as link:
        link.start(50)
        for item in link.frames(LONG_S):
            frame = getattr(item, "frame", None)
            if isinstance(frame, Frame) and frame.seq >= 2:
                return list(frame.cells[:12])
    raise AssertionError("no frame")


@pytest.mark.whole
@pytest.mark.timeout(3000)
def test_the_installer_puts_a_mat_onto_an_empty_board_and_it_is_read_there(board, capfd, patient):
    loaded = [row[:3] + row[4:7] for row in truth.distinct()[:10]]  # a starter on the reference's circuit
    padded = [[*row, 0.0, 0.0] for row in loaded] + [[0.0] * 8] * 6
    board.circuit(cells=[[0.0] * 8] * 16, settle=0.0)
    board.power(cache=False)
    with Cable(board) as cable:
        code, said = install(capfd, "--port", cable.port)
    assert code == 0, said
    assert "Pico with RP2040" in said
    assert ".mpy" in said
    assert "switched to fw-1" in said
    assert "It is a starter-10x3 now: 10 rows by 3 columns a foot." in said
    board.circuit(cells=padded)
    with Cable(board) as cable:
        assert twelve_cells(cable.port) == list(truth.frame(padded)[0].reshape(16, 8)[:2, :6].ravel())
        # A mat that runs: another version beside the first, and what it is stays.
        code, said = install(capfd, "--port", cable.port)
    assert code == 0, said
    assert "switched to fw-2" in said
    assert f"layout {layout_of('starter-10x3').id}" in said
