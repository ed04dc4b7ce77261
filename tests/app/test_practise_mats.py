"""`groundtone practise` on mats that send what they are told to, vanish, fall silent or misbehave."""

import signal
import struct
import threading
import time

import matplotlib.image
import numpy as np
import pytest
from scripted_mat import EVENT, message
from sound_in import RATE, is_lost_sound, loudest_hz, part_in, read, stretches
from using import film

from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import (
    Empty,
    GolferSpec,
    MatSpec,
    Scenario,
    Session,
    SwingSpec,
    demo_scenario,
)

# Stands with the weight on the toes: the toes cue sounds throughout the setup, before and after the one good swing.
ON_TOES = Session(
    GolferSpec(setup_heel_toe=0.78), (SwingSpec("good"), SwingSpec("good")), 2, 0.5, rocks=1, rock_s=2.0, setup_s=4.0
)


def practising(running, *arguments):
    return running("practise", "--no-echo", *arguments)


def as_reference(scripted, **more):
    return scripted(rows=16, columns=8, layout="reference-16x4", **more)


def started(mat):
    """Waits until the practice has begun: it starts the mat a second time for that."""
    mat.wait_for(lambda: len([1 for command, _ in mat.requests if command == 2]) == 2)


def test_a_swing_with_its_profile_until_the_cable_is_pulled(running, demo_folder, scripted, tmp_path):
    act = Session(GolferSpec(), (SwingSpec("trail_hang"),), seed=2, empty_s=2.5, rocks=1, rock_s=2.0, setup_s=1.0)
    known = demo_scenario(3, "left", 62.0).mat
    frames = film(Scenario(known, act), 11.6)  # the swing ends at 11.03 s
    mat, profile = as_reference(scripted, uid=bytes.fromhex(known.uid)), demo_folder.folder / "profile.json"
    listening = practising(running, "--port", mat.port, "--search", "0", "--profile", profile, "--out", tmp_path)
    started(mat)
    mat.play(frames, pace_s=0.01)
    mat.wait_for(lambda: mat.acks[-1][0] >= len(frames) - 4)
    mat.unplug()
    said = listening.end()
    assert said.code == 3
    (sentence,) = said.err.splitlines()
    assert sentence.startswith("groundtone: The mat at /dev/")
    assert sentence.endswith("is gone: check its cable and power, and start again.")
    assert "not calibrated" not in said.out
    assert "Sound: no sound card" in said.out or "Sound: sound card" in said.out
    (line,) = [line for line in said.out.splitlines() if line.startswith("swing 1: lead ")]
    assert "trail side" in line
    assert "practice: 1 swing" in said.out
    assert "; 0 frames missed.\n" in said.out
    samples = read(tmp_path / "tones.wav")
    last = stretches(samples)[-1]
    assert is_lost_sound(samples, last[0])
    assert last[1] - last[0] == pytest.approx(0.95, abs=0.01)
    cue = [stretch for stretch in stretches(samples) if part_in(samples, *stretch, 180, 260) > 0.2]
    assert cue
    assert matplotlib.image.imread(tmp_path / "lanes.png").shape[:2] == (960, 885)


def test_seconds_and_ctrl_c_end_it_politely(running, scripted, tmp_path):
    frames = film(Scenario(MatSpec.reference(), Empty(60.0)), 20.0)

    def begun(mat, *arguments):
        listening = practising(running, "--port", mat.port, "--no-record", *arguments)
        started(mat)
        threading.Thread(target=mat.play, args=(frames,), kwargs={"pace_s": 0.01}, daemon=True).start()
        return listening

    timed = begun(as_reference(scripted), "--seconds", "2", "--out", tmp_path / "timed").end()
    mat = as_reference(scripted)
    stopped = begun(mat, "--out", tmp_path / "stopped")
    while "End with q or Ctrl-C" not in stopped.process.stdout.readline():
        assert stopped.process.poll() is None
    mat.wait_for(lambda: len(mat.acks) > 10)
    stopped.process.send_signal(signal.SIGINT)
    by_hand = stopped.end()
    for said in (timed, by_hand):
        assert said.code == 0
        assert said.err == ""
        assert "No swing was seen." in said.out
        assert "; 0 frames missed.\n" in said.out
    assert "This mat is not calibrated: forces are a guess from the typical film" in timed.out
    for folder in ("timed", "stopped"):
        samples = read(tmp_path / folder / "tones.wav")
        # Nobody was there; a machine that stood still for long has lost the mat meanwhile.
        assert all(is_lost_sound(samples, begin) for begin, _ in stretches(samples))
    assert len(read(tmp_path / "timed" / "tones.wav")) / RATE > 1.75
    assert not (tmp_path / "timed" / "lanes.png").exists()


def test_pulled_while_the_toes_cue_sounds_after_a_swing(running, scripted, tmp_path):
    mat = as_reference(scripted)
    frames = film(Scenario(MatSpec.reference(), ON_TOES), 18.0)  # the second setup; the first swing ended at 12.0 s
    listening = practising(running, "--port", mat.port, "--search", "0", "--out", tmp_path)
    started(mat)
    mat.play(frames[:-100])
    mat.play(frames[-100:], pace_s=0.01)
    mat.unplug()
    said = listening.end()
    assert said.code == 3
    assert said.err.count("\n") == 1
    assert "is gone: check its cable" in said.err
    assert "swing 1: lead " in said.out
    assert "practice: 1 swing" in said.out
    assert "; 0 frames missed.\n" in said.out
    samples = read(tmp_path / "tones.wav")
    end_s = len(samples) / RATE
    # The toes cue runs into the lost sound without a pause longer than its rhythm's, and the three notes end it all.
    (_, end) = stretches(samples)[-1]
    begin = end - 0.95
    assert is_lost_sound(samples, begin)
    assert part_in(samples, begin - 0.30, begin, 1240, 1400) > 0.97
    assert end_s - begin < 2.5
    assert (tmp_path / "lanes.png").exists()


def test_a_mat_that_falls_silent_is_given_up_after_three_seconds(running, scripted, tmp_path):
    mat = as_reference(scripted)
    listening = practising(running, "--port", mat.port, "--search", "0", "--out", tmp_path)
    started(mat)
    mat.play(film(Scenario(MatSpec.reference(), Empty(5.0)), 1.0), pace_s=0.01)
    silent = time.monotonic()
    said = listening.end()
    assert time.monotonic() - silent > 3.0
    assert said.code == 3
    assert said.err == "groundtone: The mat has stopped sending: check its cable and power, and start again.\n"
    samples = read(tmp_path / "tones.wav")
    ((begin, end),) = stretches(samples)
    assert is_lost_sound(samples, begin)
    assert end - begin == pytest.approx(0.95, abs=0.01)
    assert len(samples) / RATE - begin > 2.5  # and nothing after it until the end
    assert mat.acks[-1][1] == 1  # it was told that nothing is under way


def test_frames_that_come_late_are_told_once(groundtone, scripted):
    mat = as_reference(scripted)

    def play():
        started(mat)
        frames = film(Scenario(MatSpec.reference(), Empty(5.0)), 2.0)
        mat.play(frames[:50], pace_s=0.01)
        time.sleep(0.25)
        mat.play(frames[50:], pace_s=0.01)

    player = threading.Thread(target=play)
    player.start()
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port, "--seconds", "2")
    player.join()
    assert said.code == 0
    (line,) = [line for line in said.out.splitlines() if line.startswith("Frames come ")]
    assert line.endswith("s late: close other programs, or choose a lower frame rate.")
    assert 0.2 <= float(line.split()[2]) <= 0.4


def test_joined_rows_are_named(groundtone, tmp_path):
    with MatProcess(Scenario(MatSpec.reference(joined_rows=((3, 4),)), Empty(30.0))) as process:
        (tmp_path / "tones.wav").write_bytes(b"of yesterday")
        said = groundtone("practise", "--no-wait", "--no-echo", "--port", process.port, "--out", tmp_path)
    assert said.code == 2
    assert said.err == "groundtone: Rows 3 and 4 are joined: look for a short, torn film or water.\n"
    assert (tmp_path / "tones.wav").read_bytes() == b"of yesterday"


def test_who_stands_on_the_mat_at_power_up_is_told_to_step_off(groundtone):
    scenario = Scenario(MatSpec.reference(), Session(GolferSpec(mass_kg=90.0), seed=2, empty_s=0.5, setup_s=30.0))
    with MatProcess(scenario, world="standing_world:StandingWorld") as process:
        said = groundtone("practise", "--no-wait", "--no-echo", "--port", process.port)
    assert said.code == 2
    assert said.err.startswith("groundtone: Rows ")
    assert said.err.count("\n") == 1
    assert "are held low: step off the mat; if it stays, dry it and look for a short." in said.err


def test_what_the_mat_says_unasked_and_damaged_messages_are_told(groundtone, scripted):
    mat = as_reference(scripted)

    def play():
        started(mat)
        frames = film(Scenario(MatSpec.reference(), Empty(5.0)), 1.0)
        mat.send(message(EVENT, struct.pack("<BI", 4, 0) + b"The settings file was unusable: defaults are in force."))
        mat.send(message(EVENT, struct.pack("<BI", 1, 0)), message(EVENT, struct.pack("<BI", 3, 0)))
        mat.raw(b"rubbish\0" * 3)
        mat.play(frames[:20] + frames[23:], pace_s=0.01)

    player = threading.Thread(target=play)
    player.start()
    said = groundtone("practise", "--no-wait", "--no-echo", "--port", mat.port, "--seconds", "1")
    player.join()
    assert said.code == 0
    assert said.out.count("The mat says: ") == 1
    assert "The mat says: The settings file was unusable: defaults are in force." in said.out
    assert "; 3 damaged messages dropped (a bad cable or plug makes them); 3 frames missed.\n" in said.out


def test_the_lost_sound_is_what_the_helper_takes_for_it():
    """The tests' own ear: it hears falling notes, and does not hear them in others."""
    t = np.arange(round(0.25 * RATE)) / RATE
    falling = np.concatenate(
        [np.sin(2 * np.pi * 659.3 * t), np.sin(2 * np.pi * 440 * t), np.sin(2 * np.pi * 293.7 * np.r_[t, t + 0.25])]
    )
    assert loudest_hz(falling, 0.0, 0.25) == pytest.approx(659.3, abs=1.5)
    assert is_lost_sound(falling, 0.0)
    assert not is_lost_sound(falling[::-1].copy(), 0.0)
