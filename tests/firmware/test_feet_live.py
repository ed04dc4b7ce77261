"""The feet message in place of whole frames: the live engine, a recording and its review work from it."""

import json
from types import SimpleNamespace

import beside_host
import numpy as np
import pytest
from test_onmat_line import send

from groundtone.app.window.modes.practise import Practise, PupilWish
from groundtone.calibration.profile import Profile, profile_text
from groundtone.engine.live import LiveEngine
from groundtone.errors import LostError
from groundtone.link.lasting_link import LastingLink
from groundtone.link.serial_link import SerialLink
from groundtone.link.talk import MessageLink
from groundtone.mat.layout import LEFT, RIGHT, layout_of
from groundtone.onboard.switch import NOT_ON, SHORT, FeetSwitch, keep_own
from groundtone.pressure.feet import Stance, centres
from groundtone.pressure.from_feet import forces_from_feet
from groundtone.record.feet_frames import feet_bytes
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import About, Golfer
from groundtone.review.measured import measure
from groundtone.swing.events import Phase
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Scenario
from groundtone.wire.codec import parse
from groundtone.wire.messages import Frame

PERIOD_US = 10_000
MESSAGES = """
import json
from array import array
from mat.alone import feet, onmat
plan = json.loads(open("frames.json").read())
frame = feet.Frame(onmat.read(bytes.fromhex(plan["uid"]), plan["layout"], "sent.bin").pressure)
file = open("frames.bin", "rb")
values = array("H", bytes(2 * (frame.cells + 2)))
for i, seq in enumerate(plan["seqs"]):
    file.readinto(values)
    t = 10000 * (i + 1)
    frame.message[1] = 0
    frame.message[2:8] = bytes((seq & 255, seq >> 8 & 255)) + t.to_bytes(4, "little")
    frame.fill(values)
    print(frame.message.hex())
"""


def test_cells_laid_around_a_centre_have_that_force_and_centre():
    layout = layout_of("reference-16x4")
    rng = np.random.default_rng(2)
    force, u, v = rng.uniform(40, 900, (50, 2)), rng.uniform(0, 15, (50, 2)), rng.uniform(0, 3, (50, 2))
    got = centres(forces_from_feet(force, u, v, layout), layout, 30.0)
    assert np.allclose(got[0], force)
    assert np.allclose(got[1], (u + 0.5) * layout.row_pitch_mm)
    assert np.allclose(got[2], (v + 0.5) * layout.column_pitch_mm)
    u[3, 1] = v[3, 1] = np.nan
    force[4, 0] = np.nan
    odd = forces_from_feet(force, u, v, layout)
    assert odd[3].sum() == pytest.approx(force[3].sum())
    assert np.isnan(odd[4]).all()


@pytest.fixture(scope="module")
def session():
    return beside_host.played("ordinary", 4, 4200, swings=2)


def followed(session, film, messages=None):
    """What the engine knows after each frame; with feet messages these stand in for frames once the soles are known."""
    lead = RIGHT if session.golfer.hand == "left" else LEFT
    engine = LiveEngine(session.layout, film, Stance(lead, session.golfer.stance_mm, 0.0, session.golfer.flare_deg))
    out = []
    for i, frame in enumerate(session.frames):
        device_us = PERIOD_US * (i + 1)
        if messages is not None and engine.ready:
            out.append(engine.take_frame(frame, device_us, messages[i]))
        else:
            out.append(engine.take_frame(frame, device_us))
    return out


def test_swings_and_tones_are_those_of_whole_frames(mpy, tmp_path, session):
    film = beside_host.film_for(session)
    (tmp_path / "sent.bin").write_bytes(beside_host.sent(session, film))
    (tmp_path / "frames.bin").write_bytes(beside_host.values_of(session))
    plan = {"uid": session.uid, "layout": session.layout.id, "seqs": [frame.seq for frame in session.frames]}
    (tmp_path / "frames.json").write_text(json.dumps(plan))
    messages = [parse(bytes.fromhex(line)) for line in mpy(MESSAGES).split()]
    whole, told = followed(session, film), followed(session, film, messages)
    assert sum(live.ended is not None for live in told) == sum(live.ended is not None for live in whole) == 2
    assert [s for live in told for s in live.signals] == [s for live in whole for s in live.signals]
    share = np.array([[a.share, b.share] for a, b in zip(whole, told, strict=True)])
    overall = np.array([[a.overall, b.overall] for a, b in zip(whole, told, strict=True)])
    share, overall = (x[np.isfinite(x).all(1)] for x in (share, overall))
    assert len(share) > 2000
    print("share, overall apart, 95 %:", [np.quantile(np.abs(np.diff(x)), 0.95) for x in (share, overall)])
    assert np.quantile(np.abs(np.diff(share)), 0.95) < 0.01
    assert np.quantile(np.abs(np.diff(overall)), 0.95) < 0.015
    same = np.mean([sorted(a.sizes) == sorted(b.sizes) for a, b in zip(whole, told, strict=True)])
    print("cue decisions the same:", same)
    assert same > 0.995


class Short:
    """A link whose packets are short, and the commands it was given."""

    def __init__(self, link):
        self._link = link
        self.short_packets = False

    def __getattr__(self, name):
        return getattr(self._link, name)


class Known:
    """An engine that has found the feet, or not."""

    ready, panel = False, None


class At:
    """A golfer who stands still."""

    phase = Phase.STANDING


def test_a_link_goes_over_to_feet_and_back_and_its_recording_holds_both(tmp_path, session):
    film = beside_host.film_for(session)
    with MatProcess(Scenario(session.mat, session.act), fast=True) as process, SerialLink(process.port) as link:
        link.least_reply_s = 20.0
        text = profile_text(
            Profile(
                session.uid, session.layout.id, session.layout.digest, "2026-11-01T10:00:00+00:00", (49.0,), 0.02, film
            )
        )
        data = beside_host.sent(session, film)
        engine, short = Known(), Short(link)
        switch = FeetSwitch(short, engine, tmp_path, text)
        assert switch.look(At()) == ""
        engine.ready = short.short_packets = True
        assert switch.look(At()) == NOT_ON
        assert switch.look(At()) == ""
        asked(link, data)
        keep_own(tmp_path, session.uid, int.from_bytes(data[-4:], "little"), text)
        switch = FeetSwitch(short, engine, tmp_path, text)
        recorder = begin(tmp_path / "both.mcap", About(link.hello, golfer=Golfer("Teal"), profile_text=text))
        link.start(100)
        process.allow(8)
        kinds = []
        for item in link.frames():
            if item is None or not hasattr(item, "frame"):
                continue
            recorder.frame(item)
            recorder.pump()
            kinds.append(item.feet is not None)
            process.allow(1)
            if len(kinds) in (40, 400):
                engine.ready = len(kinds) == 40
                process.free()
                said = switch.look(At())
                assert said == (SHORT if len(kinds) == 40 else "")
                process.allow(8)
            if len(kinds) == 500:
                break
        process.free()
        recorder.close()
    assert kinds == [False] * 40 + [True] * 360 + [False] * 100
    recording = open_recording(tmp_path / "both.mcap")
    assert (len(recording.frames), len(recording.feet), recording.lost) == (140, 360, [])
    t_s = np.concatenate([recording.frames.t_s[:40], recording.feet.t_s, recording.frames.t_s[40:]])
    assert (np.diff(t_s) > 0).all()
    series = measure(recording).series
    assert len(series.t_s) == 500
    assert np.isfinite(series.force_n[60:390]).all()


def asked(link, data):
    """Puts bytes onto the mat."""

    class Host:
        def ask(self, command, arguments=b""):
            return 0, link.request(command, arguments, 20.0)

    assert send(Host(), data)[0] == 0


def test_a_strike_that_came_by_itself_is_recorded_with_the_feet_after_it(tmp_path):
    frame = Frame(1, 5, 1000, 7000, 1234, 0, 0, np.zeros(0, np.uint16))
    assert feet_bytes(b"x" * 20, frame)[20:] == (7000).to_bytes(2, "little") + (1234).to_bytes(2, "little")


def test_a_mat_lost_while_it_is_asked_for_feet_is_looked_for_and_ends_no_practice(monkeypatch, tmp_path):
    link = object.__new__(LastingLink)
    link._link, asked = SimpleNamespace(short_packets=True, sends_feet=False), []

    def lost(self, on):
        asked.append(on)
        raise LostError("the mat is gone")

    monkeypatch.setattr(LastingLink, "feet", lost)
    switch = FeetSwitch(link, SimpleNamespace(ready=True, panel=None), tmp_path, None)
    switch._own = True  # it had been asked what lies on it
    assert switch.look(SimpleNamespace(phase=Phase.STANDING)) == ""
    assert asked == [True]
    link._link.sends_feet, switch._engine.ready = True, False
    assert switch.look(SimpleNamespace(phase=Phase.STANDING)) == ""
    assert asked == [True, False]


def test_the_window_asks_for_feet_between_frames_and_goes_on_with_them(monkeypatch, tmp_path):
    link, asked, starts = object.__new__(LastingLink), [], []
    link._link = SimpleNamespace(short_packets=True, sends_feet=False)

    def feet(self, on):
        asked.append(on)
        self._link.sends_feet = on

    monkeypatch.setattr(LastingLink, "feet", feet)
    engine = SimpleNamespace(ready=True, panel=None)
    live = SimpleNamespace(t_s=1.0, share=0.5, overall=0.5, out={}, phase=Phase.AWAY, ended=None)
    mode = Practise(PupilWish())
    mode._practice = SimpleNamespace(take_item=lambda item: live, over=False)
    mode.courier, mode._switch = SimpleNamespace(free=False), FeetSwitch(link, engine, tmp_path, None)
    mode._switch._own = True  # it had been asked what lies on it
    mat = SimpleNamespace(link=SimpleNamespace(start=starts.append))
    for ready, feet_on, started in ((True, True, []), (False, False, [200])):
        engine.ready, mode.errand = ready, None
        assert not mode.take(None)
        assert asked[-1:] != [feet_on]  # not while somebody reads from the link
        mode.errand()
        mode.start(mat)
        assert (asked[-1], starts) == (feet_on, started)
    engine.ready = mode.errand = None
    mode.take(None)
    assert mode.errand is None


@pytest.mark.long
def test_a_practice_over_short_packets_goes_over_to_feet_by_itself(tmp_path, monkeypatch, session):
    from click.testing import CliRunner

    from groundtone.app.command import cli
    from groundtone.calibration.profile import write_profile

    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(MessageLink, "short_packets", property(lambda self: True))
    film = beside_host.film_for(session)
    profile = Profile(
        session.uid, session.layout.id, session.layout.digest, "2026-11-01T10:00:00+00:00", (49.0,), 0.02, film
    )
    write_profile(tmp_path / "own.json", profile)
    with MatProcess(Scenario(session.mat, session.act), fast=True) as process:
        with SerialLink(process.port) as link:
            link.least_reply_s = 20.0
            data = beside_host.sent(session, film)
            asked(link, data)
        keep_own(tmp_path / "home", session.uid, int.from_bytes(data[-4:], "little"), profile_text(profile))
        process.free()
        said = CliRunner().invoke(
            cli,
            ["practise", "--port", process.port, "--device-time", "--seconds", "20", "--no-echo",
             "--profile", str(tmp_path / "own.json"), "--wav", str(tmp_path / "heard.wav")],
        )  # fmt: skip
    assert said.exit_code == 0, said.output
    assert SHORT.split(":")[0] in " ".join(said.output.split())
    (recorded,) = (tmp_path / "home" / "recordings").glob("*.mcap")
    recording = open_recording(recorded)
    assert len(recording.frames) > 50
    assert len(recording.feet) > 50  # faster than time, so many find no credit
    assert recording.feet.t_s.min() > recording.frames.t_s.min() + 4.0
