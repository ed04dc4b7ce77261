"""Players: the file holds what was rendered, time is kept, and a card that goes away is survived."""

import math
import os
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from patience import until

from groundtone.errors import ToneError
from groundtone.tone import devices, player
from groundtone.tone.devices import SoundCard, choose, heard, list_devices
from groundtone.tone.output import OfflinePlayer, Output
from groundtone.tone.player import Player
from groundtone.tone.synth import Synth


def read_int16(path: Path) -> np.ndarray:
    data, rate = soundfile.read(path, dtype="int16")
    info = soundfile.info(path)
    assert (rate, info.channels, info.subtype, info.format) == (48000, 1, "PCM_16", "WAV")
    return data


def session(out: Output, steps: int, step_s: float) -> None:
    out.start()
    out.signal("ready")
    for _ in range(steps):
        out.heartbeat()
        out.set_cues({"toes": 0.8, "trail side": 0.3})
        out.advance(step_s)


def rendered(out: Player, seconds: float) -> None:
    """Wait until so much more sound has been made, however slowly."""
    goal = out.rendered + round(seconds * 48000)
    until(lambda: out.rendered >= goal)


def test_the_offline_file_holds_what_was_rendered(tmp_path: Path) -> None:
    out = OfflinePlayer(Synth(), tmp_path / "a.wav")
    session(out, 300, 0.01)
    out.close()
    synth = Synth()
    synth.signal("ready")
    expected = []
    for _ in range(300):
        synth.heartbeat()
        synth.set_cues({"toes": 0.8, "trail side": 0.3})
        expected.append(synth.render(480))
    written = read_int16(tmp_path / "a.wav")
    assert np.array_equal(written, np.round(np.concatenate(expected) * 32767).astype(np.int16))
    assert np.max(np.abs(written)) > 4000


@pytest.mark.parametrize(
    ("steps", "step_s", "samples"), [(3, 1 / 3, 48000), (700, 1 / 70, 480000), (97, 0.0123, 57268)]
)
def test_the_offline_length_is_exact(tmp_path: Path, steps: int, step_s: float, samples: int) -> None:
    out = OfflinePlayer(Synth(), tmp_path / "a.wav")
    session(out, steps, step_s)
    out.close()
    assert len(read_int16(tmp_path / "a.wav")) == samples  # 97 x 0.0123 s x 48000 = 57268.8: the part is still owed


def test_offline_time_goes_forwards_only_and_stops_when_stopped(tmp_path: Path) -> None:
    out = OfflinePlayer(Synth(), tmp_path / "a.wav")
    out.start()
    for bad in (-0.1, math.nan, math.inf):
        with pytest.raises(ToneError, match="Time passes forwards"):
            out.advance(bad)
    out.advance(0.5)
    out.stop()
    out.advance(3.0)
    out.start()
    out.advance(0.25)
    out.close()
    assert len(read_int16(tmp_path / "a.wav")) == 36000


def test_the_null_backend_runs_no_faster_than_time_and_stops(tmp_path: Path) -> None:
    out = Player(Synth(), tmp_path / "a.wav", backend="null")
    assert "not heard" in out.description
    start = time.monotonic()
    session(out, 0, 0.0)
    while out.rendered < 24000:
        out.heartbeat()
        out.set_cues({"toes": 0.8})
        out.drain()
        time.sleep(0.01)
    assert out.rendered / 48000 < time.monotonic() - start + 0.1  # it is filled at the start
    out.stop()
    held = out.rendered
    time.sleep(0.1)
    assert out.rendered == held
    out.close()
    out.close()
    written = read_int16(tmp_path / "a.wav")
    assert len(written) == held
    assert out.dropped_blocks == 0
    assert np.max(np.abs(written)) > 500
    assert np.all(written[-100:] == 0)  # stop lets the cue fall silent instead of cutting it
    with pytest.raises(ToneError, match="closed"):
        out.start()


def test_the_live_watchdog_says_lost_when_the_main_loop_hangs(tmp_path: Path) -> None:
    synth = Synth()
    out = Player(synth, tmp_path / "a.wav", backend="null")
    beats, beat = [], synth.heartbeat
    synth.heartbeat = lambda: (beats.append(out.rendered), beat())  # type: ignore[method-assign]
    out.start()
    out.heartbeat()
    out.set_cues({"toes": 1, "trail side": 1})
    rendered(out, 0.6)
    assert synth.lost
    out.close()
    written = read_int16(tmp_path / "a.wav").astype(float)
    written = written[beats[0] :]
    assert np.max(np.abs(written[:9600])) > 500
    spectrum = np.abs(np.fft.rfft(written[13500:22500]))  # 281 to 469 ms: only "lost", its first note E5
    assert np.fft.rfftfreq(9000, 1 / 48000)[np.argmax(spectrum)] == pytest.approx(659.26, abs=6)


def test_a_device_that_goes_away_is_noticed_and_the_session_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(player, "_STALL_S", 0.1)
    out = Player(Synth(), tmp_path / "a.wav", backend="null")
    out.start()
    rendered(out, 0.1)
    out._device.stop()  # as if the plug had been pulled: no more callbacks
    before = out.rendered
    until(lambda: (out.drain(), out.trouble)[1])
    assert "has stopped; tones are not heard" in str(out.trouble)
    rendered(out, 0.1)
    assert out.rendered >= before + 4800
    out.close()
    assert len(read_int16(tmp_path / "a.wav")) == out.rendered


def test_a_signal_that_has_begun_ends_before_the_stop_though_the_sound_comes_slowly(tmp_path: Path) -> None:
    synth = Synth()
    out = Player(synth, tmp_path / "a.wav", backend="null")
    render = synth.render

    def slowly(n: int) -> np.ndarray:
        time.sleep(0.02)
        return render(n)

    synth.render = slowly  # type: ignore[method-assign]
    out.start()
    out.signal("saved")  # 0.7 s, and twice as long here
    rendered(out, 0.05)
    out.close()
    written = read_int16(tmp_path / "a.wav")
    alone = Synth()
    alone.signal("saved")
    whole = np.round(alone.render(48000) * 32767).astype(np.int16)
    assert np.ptp(np.flatnonzero(written)) == pytest.approx(np.ptp(np.flatnonzero(whole)), abs=100)


def test_an_error_while_rendering_is_silence_and_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synth = Synth()

    def broken(n: int) -> np.ndarray:
        raise ZeroDivisionError("invented")

    monkeypatch.setattr(synth, "render", broken)
    out = Player(synth, tmp_path / "a.wav", backend="null")
    out.start()
    rendered(out, 0.05)
    out.drain()
    assert "could not be made (invented)" in str(out.trouble)
    out.close()
    assert out.rendered > 0
    assert np.all(read_int16(tmp_path / "a.wav") == 0)


def test_a_file_that_is_never_drained_drops_blocks_and_counts_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(player, "_BACKLOG_S", 0.05)
    out = Player(Synth(), tmp_path / "a.wav", backend="null")
    out.start()
    rendered(out, 0.3)
    out.close()
    assert out.dropped_blocks > 5
    assert len(read_int16(tmp_path / "a.wav")) == out.rendered - 480 * out.dropped_blocks


def test_stand_ins_are_not_sound_cards() -> None:
    assert not heard("Discard all samples (playback) or generate zero samples (capture)")
    assert not heard("NULL Playback Device")
    assert heard("USB Audio, analogue")
    assert all(heard(card.name) for card in list_devices())


def test_a_card_is_chosen_by_a_part_of_its_name() -> None:
    cards = [SoundCard("USB Audio", "ALSA", 1), SoundCard("USB Audio 2", "ALSA", 2), SoundCard("HDMI", "ALSA", 3)]
    assert choose(cards, None) is None
    assert choose(cards, "hdmi") is cards[2]
    assert choose(cards, "usb audio") is cards[0]
    with pytest.raises(ToneError, match="More than one"):
        choose(cards, "usb")
    with pytest.raises(ToneError, match="No sound card's name fits 'bell'"):
        choose(cards, "bell")


def test_auto_falls_back_where_the_system_has_no_card_and_where_it_cannot_be_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(player, "list_devices", list)
    out = Player(Synth())
    assert "no sound card" in out.description
    assert out.trouble is None
    out.close()
    with pytest.raises(ToneError, match="Sound cards here: none"):
        Player(Synth(), device="bell")

    def refuse(self: Player, handle: object, backends: list[object] | None, *, whole: bool = False) -> object:
        if backends is None:
            raise player.miniaudio.MiniaudioError("busy")
        return real(self, handle, backends, whole=whole)

    real = Player._device_on
    monkeypatch.setattr(Player, "_device_on", refuse)
    monkeypatch.setattr(player, "list_devices", lambda: [SoundCard("bell", "ALSA", None)])
    out = Player(Synth())
    assert "cannot be opened (busy); tones are not heard" in str(out.trouble)
    out.close()
    with pytest.raises(ToneError, match="'bell' cannot be opened"):
        Player(Synth(), device="bell")


def test_unknown_signals_bad_buffers_and_bad_folders_are_refused_in_the_callers_thread(tmp_path: Path) -> None:
    out = Player(Synth(), backend="null")
    with pytest.raises(ToneError, match="no signal 'gong'"):
        out.signal("gong")
    out.close()
    with pytest.raises(ToneError, match="1 to 200 ms"):
        Player(Synth(), buffer_ms=0, backend="null")
    with pytest.raises(ToneError, match="cannot be written"):
        Player(Synth(), tmp_path / "no" / "a.wav", backend="null")
    with pytest.raises(ToneError, match="cannot be written"):
        OfflinePlayer(Synth(), tmp_path / "no" / "a.wav")


def test_the_sound_systems_remarks_are_kept_off_the_screen(capfd: pytest.CaptureFixture[str]) -> None:
    with devices.quiet_stderr():
        os.write(2, b"remark")
    os.write(2, b"seen")
    assert capfd.readouterr().err == "seen"


def test_a_remembered_card_that_is_gone_is_said_and_the_systems_choice_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = Player._device_on
    opened = []

    def device_on(self: Player, handle: object, backends: list[object] | None, *, whole: bool = False) -> object:
        opened.append((handle, backends is None))
        return real(self, None, [player.miniaudio.Backend.NULL])

    monkeypatch.setattr(Player, "_device_on", device_on)
    monkeypatch.setattr(player, "list_devices", lambda: [SoundCard("speaker", "ALSA", 5)])
    out = Player(Synth(), device="bell", insist=False)
    assert str(out.trouble) == (
        "No sound card's name fits 'bell'. Sound cards here: 'speaker'. The system's choice is taken instead."
    )
    assert out.heard
    assert opened == [(None, True)]
    assert out.description == "the system's sound card (Null, 3 periods of 10 ms)"
    out.close()
    monkeypatch.setattr(player, "list_devices", list)
    out = Player(Synth(), device="bell", insist=False)
    assert str(out.trouble).endswith("Sound cards here: none. Tones are not heard.")
    assert not out.heard
    out.close()


def test_a_card_that_comes_back_is_taken_up_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Player._device_on
    there = [SoundCard("bell", "ALSA", None)]
    monkeypatch.setattr(Player, "_device_on", lambda self, *_, **__: real(self, None, [player.miniaudio.Backend.NULL]))
    monkeypatch.setattr(player, "list_devices", lambda: list(there))
    monkeypatch.setattr(player, "_STALL_S", 0.1)
    monkeypatch.setattr(player, "_SEEK_S", 0.2)
    out = Player(Synth(), tmp_path / "a.wav", seek=True)
    out.start()
    assert out.heard
    rendered(out, 0.1)
    out._device.stop()
    there.clear()

    def drained_until(what: str) -> None:
        until(lambda: (out.drain(), what in str(out.trouble))[1], lambda: f"{what!r} is not in {str(out.trouble)!r}")

    drained_until("Plug it in again; it is looked for every few seconds.")
    assert not out.heard
    time.sleep(0.3)
    out.drain()
    assert not out.heard
    there.append(SoundCard("bell", "ALSA", None))
    drained_until("was away; tones are heard again, from the system's sound card")
    assert out.heard
    rendered(out, 0.1)
    out.close()
    assert len(read_int16(tmp_path / "a.wav")) == out.rendered


def test_a_card_that_wakes_up_slowly_is_not_taken_for_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(player, "_STALL_S", 0.05)
    monkeypatch.setattr(player, "_AWAKE_S", 0.4)
    out = Player(Synth(), backend="null")
    out.start()
    out._device.stop()  # filled, and not yet playing
    began = time.monotonic()
    out._began = out.rendered
    out.drain()
    until(lambda: (out.drain(), out.trouble)[1])
    assert "has stopped" in str(out.trouble)
    assert time.monotonic() - began >= 0.35
    out.close()


def test_periods_are_asked_for_and_bounded() -> None:
    with pytest.raises(ToneError, match="1 to 8"):
        Player(Synth(), backend="null", periods=0)
    out = Player(Synth(), backend="null", buffer_ms=10, periods=3)
    out.start()
    rendered(out, 0.1)
    out.close()
    times, before = zip(*out.calls, strict=True)
    assert list(before[:3]) == [0, 480, 960]
    assert list(times) == sorted(times)
    assert len(before) * 480 == out.rendered


@pytest.mark.parametrize(
    ("system", "asked", "words"),
    [("PulseAudio", (15, 2), "(Null, 15 ms)"), ("ALSA", (5, 3), "(Null, 3 periods of 5 ms)")],
)
def test_a_system_that_keeps_one_period_is_asked_for_one_as_long_as_the_buffer(
    system: str, asked: tuple[int, int], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = player.miniaudio.PlaybackDevice
    wishes = []

    def opened(**wish: object) -> object:
        wishes.append((wish["buffersize_msec"], wish["callback_periods"]))
        return real(**{**wish, "backends": [player.miniaudio.Backend.NULL]})

    monkeypatch.setattr(player.miniaudio, "PlaybackDevice", opened)
    monkeypatch.setattr(player, "list_devices", lambda: [SoundCard("bell", system, None)])
    out = Player(Synth(), buffer_ms=5, periods=3)
    assert wishes == [asked]
    assert out.description.endswith(words)
    out.close()


def test_the_longest_block_is_kept() -> None:
    out = Player(Synth(), backend="null", buffer_ms=5, periods=2)
    slow = iter([0.0, 0.03, 0.0])
    render = out._synth.render

    def late(n: int) -> np.ndarray:
        time.sleep(next(slow, 0.0))
        return render(n)

    out._synth.render = late  # type: ignore[method-assign]
    out.start()
    rendered(out, 0.1)
    out.close()
    assert out.longest_s >= 0.03


def test_a_machine_that_runs_dry_keeps_more_and_says_so() -> None:
    out = Player(Synth(), backend="null", buffer_ms=5, periods=2)
    out.start()

    def runs_dry(times: int) -> None:
        for _ in range(times):
            out.late += 1
            out.drain()

    runs_dry(3)  # a hiccup
    assert out.told is None
    runs_dry(1)
    assert out.told == (
        "This computer is too busy for 10 ms of sound: 20 ms are kept from now on, so tones come 10 ms later. "
        "Close other programs."
    )
    rendered(out, 0.1)  # it goes on
    runs_dry(4)
    assert "too busy for 20 ms of sound: 40 ms are kept" in out.told
    # No more than that: a cue that late teaches something else.
    runs_dry(8)
    assert ": 40 ms are kept" in out.told
    rendered(out, 0.1)
    out.close()


def test_a_clock_that_stands_in_for_a_lost_card_keeps_what_it_keeps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(player, "list_devices", list)
    out = Player(Synth(), buffer_ms=5, periods=2)
    out.start()
    out._fall_back("The sound card has stopped")
    monkeypatch.setattr(player, "list_devices", lambda: pytest.fail("a card is looked for, and nobody asked for that"))
    for _ in range(8):
        out.late += 1
        out.drain()
    assert out.told is None
    assert "has stopped" in str(out.trouble)
    out.close()


def test_stereo_is_played_and_written_in_two_channels(tmp_path: Path) -> None:
    out = OfflinePlayer(Synth(lead="left"), tmp_path / "a.wav")
    session(out, 100, 0.01)
    out.close()
    data, rate = soundfile.read(tmp_path / "a.wav")
    assert data.shape == (rate, 2)
    live = Player(Synth(lead="right"), tmp_path / "b.wav", backend="null")
    live.start()
    live.heartbeat()
    live.set_cues({"trail side": 1.0})
    rendered(live, 0.2)
    live.close()
    assert live.trouble is None
    heard_there = soundfile.read(tmp_path / "b.wav")[0]
    heard_there = heard_there[np.flatnonzero(heard_there[:, 0])[0] :][:9600]  # before "lost", which has no side
    left, right = np.sum(heard_there**2, axis=0)
    assert left > 20 * right > 0
