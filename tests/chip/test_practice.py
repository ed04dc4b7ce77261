"""A practice of the twin on the chip from end to end: the computer puts on what the mat needs and the cable is pulled,
the mat alone plays the right tones for each swing, and what it noted comes into the library beside the host's own."""

import re

import numpy as np
import pytest
from cable import Cable
from sound_in import pin_wav, practice_heard, read

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.app.command import main
from groundtone.app.live.practice_setup import PracticeWish, begun
from groundtone.calibration.profile import write_profile
from groundtone.files import data_folder
from groundtone.link.talk import MessageLink
from groundtone.link.twin_link import TwinLink
from groundtone.record.library import Library
from groundtone.record.session import Golfer
from groundtone.review.library_reader import sessions_of
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.inprocess import STRIKE_LEAST
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import truth
from groundtone.twin.world import World

HELLO = 1
STEP_US = 5000
SENSOR_V = 3.27
WREN = Golfer("Wren", "left", 62.0, None)
SWINGS = (SwingSpec("toe_drift"), SwingSpec("trail_hang"), SwingSpec("good"))


def practice(uid):
    """Three swings of an invented golfer on a mat of the twin that has the board's number."""
    golfer = GolferSpec(hand=WREN.hand, mass_kg=WREN.mass_kg)
    act = Session(golfer, SWINGS, seed=3, empty_s=1.0, rocks=1, rock_s=3.0, setup_s=1.5, hold_s=1.4)
    return Scenario(MatSpec.reference(seed=3, uid=uid), act)


@pytest.fixture
def groundtone(capfd, monkeypatch, tmp_path):
    """The command here; no limit of the host's own clock is met, since the board's time goes by slowly."""
    monkeypatch.setattr(MessageLink, "least_reply_s", 60.0)
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))

    def run(*arguments):
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        said = capfd.readouterr()
        assert (ended.value.code or 0, "Traceback" in said.out + said.err) == (0, False), said.out + said.err
        return said.out

    return run


def film_on(board, scenario):
    """Plays the act on the board's circuit; the board's time at which it began."""
    world, began = World(scenario), board.us
    for film_us in range(0, round(world.duration_s * 1e6), STEP_US):
        board.circuit(cells=world.conductance(film_us).tolist())
        heard = world.strike(film_us, film_us + STEP_US)
        if heard is not None and heard[0] >= STRIKE_LEAST:
            board.do("strike", given={"at": began + heard[1], "volts": heard[0] * SENSOR_V})
        board.run(STEP_US)
    return began


def by_host(scenario, profile, wav):
    """The same practice with a computer at the mat, into the library, and its sound as a file."""
    link, output = TwinLink(scenario, fast=True), OfflinePlayer(Synth(), wav)
    output.start()
    wish = PracticeWish(golfer=WREN, profile=profile, echo=False)
    with begun(link, output, wish, simulated=True, threaded=False) as under_way:
        link.start(100)
        for item in link.frames():
            if item is None or under_way.practice.over:
                break
            under_way.practice.take_item(item)
        under_way.practice.end()
    output.close()


@pytest.mark.whole
@pytest.mark.timeout(3000)
def test_the_mat_alone_plays_a_practice_and_its_swings_stand_beside_the_hosts_own(mat, board, groundtone, tmp_path):
    uid = mat().ask(HELLO)[1][4:12].hex()
    scenario = practice(uid)
    own = tmp_path / "own.json"
    write_profile(own, quick_profile(scenario))
    with Library(data_folder()) as library:
        library.add(WREN)
    with Cable(board) as cable:
        assert "For a left-handed golfer of 62.0 kg" in groundtone(
            "to-mat", "--port", cable.port, "--profile", own, "--golfer", WREN.name
        )
    flash = tmp_path / "flash.bin"
    board.do("save", file=str(flash))
    # Power without a computer: nothing asks, nothing is told.
    board.power(flash, True, wait=False, alone=True)
    board.run(4_500_000)
    board.do("sound")
    began = film_on(board, scenario)
    board.run(2_000_000)
    assert not board.state()["connected"]
    changes = [((at - began) * 1e-6, hertz, duty) for at, hertz, duty in board.do("sound")["sound"]]
    pin_wav(changes, (board.us - began) * 1e-6, tmp_path / "pin.wav")
    known = truth(scenario).swings
    practice_heard(read(tmp_path / "pin.wav"), known)
    # The cable comes back: what the mat noted is fetched.
    board.do("plug")
    board.run(3_000_000, until_connected=True)
    with Cable(board) as cable:
        assert "3 swings of Wren came." in groundtone("from-mat", "--port", cable.port)
    by_host(scenario, own, tmp_path / "host.wav")
    practice_heard(read(tmp_path / "host.wav"), known)
    with Library(data_folder()) as library:
        ours, its = sorted(sessions_of(library, WREN.name), key=lambda s: "no frames" in " ".join(s.doubts))
    rows = [[row for block in session.blocks for row in block.swings] for session in (ours, its)]
    assert [len(swings) for swings in rows] == [3, 3]
    assert re.search("no frames", its.doubts[0])
    for host, noted in zip(*rows, strict=True):
        for name in ("share_setup", "share_turn", "share_impact"):
            assert noted.values[name] == pytest.approx(host.values[name], abs=0.05), name
        assert noted.events["impact"][1] == host.events["impact"][1] == "strike sensor"
    assert np.diff([row.t_s for row in rows[1]]) == pytest.approx(np.diff([row.t_s for row in rows[0]]), abs=0.15)
