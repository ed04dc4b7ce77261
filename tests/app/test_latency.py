"""`groundtone latency`: its parts by hand, the stream it reads, the world it steps, and one run on the firmware."""

import json

import numpy as np
import pytest

from groundtone.app.tones.latency import figures_of, tone_words
from groundtone.app.tones.latency_card import _CHUNK, RATE_HZ, missing_tools, read_stream
from groundtone.app.tones.latency_world import HEELS_US, TOES_US, StepWorld, Task, read_scans, step_times
from groundtone.cue.bands import Bands
from groundtone.engine.foot_to_ear import STAGES, Measured, Turn, feet_cases, radio_cases, sounded_in_stream, stages_of
from groundtone.tone.settings import SoundSettings
from groundtone.twin.radio import notification_delays


def test_the_parts_are_told_from_the_clocks_by_hand():
    # The film began at host time 100; scans every 10 ms, each asked for 1 ms (the quickest 0.5 ms) after its film time.
    film_s = np.arange(0.0, 2.0, 0.010)
    scans = np.stack([film_s, 100.0 + film_s + 0.001], axis=1)
    scans[50, 1] -= 0.0005
    steps_s = np.array([0.503, 1.0, 1.4])
    turns = [
        Turn(100.516, 100.517, 100.519),  # of the scan at 0.51, asked for at 100.511
        Turn(101.004, 101.004, 101.005),  # of the scan at 1.00, asked for at 101.001
        Turn(101.7, 101.7, 101.7),  # 300 ms after the third step: not its answer
    ]
    onsets = np.array([100.530, np.nan, 101.71])
    stages = stages_of(turns, onsets, scans, steps_s)
    assert {name: list(np.round(1e3 * values, 6)) for name, values in stages.items()} == {
        "scan": [7.5],  # 100.511 less 100.5035
        "link": [5.0],
        "queue": [1.0],
        "compute": [2.0],
        "sound": [11.0],
        "total": [26.5],
    }


def test_the_first_sample_is_found_in_the_stream_with_the_time_of_its_piece(tmp_path):
    pieces = [(10.0, np.zeros(480)), (10.01, np.zeros(480)), (10.02, np.zeros(480)), (10.03, np.full(480, 8000))]
    pieces[2][1][470:] = 8000
    path = tmp_path / "stream"
    with path.open("wb") as file:
        for host_s, samples in pieces:
            data = samples.astype("<i2").tobytes()
            file.write(_CHUNK.pack(host_s, len(data)) + data)
        file.write(_CHUNK.pack(10.04, 960) + b"cut")  # the recorder was ended here
    samples, arrived_s, ends = read_stream(path)
    assert len(samples) == 1920
    assert samples[-1] == 8000 / 32768
    assert list(arrived_s) == [10.0, 10.01, 10.02, 10.03]
    assert list(ends) == [480, 960, 1440, 1920]
    found = sounded_in_stream(*read_stream(path), RATE_HZ, [Turn(0, 0, 10.005), Turn(0, 0, 10.025), Turn(0, 0, 11.0)])
    assert found[0] == 10.02
    assert found[1] == 10.03
    assert np.isnan(found[2])


def test_the_world_steps_from_heels_to_toes_when_it_says(tmp_path):
    world = StepWorld(Task(str(tmp_path / "log"), 5).to_json())
    on_s = step_times(5, 1)
    assert np.all(np.diff(on_s) >= 0.30)
    assert world._bent(4_000_000) == 4_000_000
    for step_s in on_s:
        at = round(step_s * 1e6)
        assert world._bent(at - 1) // 100_000 == HEELS_US // 100_000
        assert world._bent(at) // 100_000 == TOES_US // 100_000
        assert world._bent(at + 149_999) // 100_000 == TOES_US // 100_000
        assert world._bent(at + 150_001) // 100_000 == HEELS_US // 100_000
    world.table(0)
    world.table(2500)
    scans = read_scans(tmp_path / "log")
    assert list(scans[:, 0]) == [0.0, 0.0025]
    assert scans[1, 1] >= scans[0, 1] > 0


def measured(total_ms=(10.0, 20.0, 30.0)):
    total = np.array(total_ms) * 1e-3
    stages = dict.fromkeys(STAGES, total / 5)
    return Measured({**stages, "total": total}, 3, 0, 600, 0, 0, "card", 5.0, "read", 200, 244, (0.1, 0.2))


def test_a_radio_that_delays_by_20_ms_costs_20_ms_and_half_a_frames_wait():
    asked = []

    def delays(sent_s, message_bytes, interval_s, packet_bytes, packets_per_event, loss, window, seed):
        asked.append((len(sent_s), message_bytes, packet_bytes, loss, window))
        arrived = sent_s + 0.020
        if packet_bytes == 27:
            arrived = arrived.copy()
            arrived[::4] = np.nan  # a quarter finds no credit at any rate
        return arrived

    cases = radio_cases(measured([25.0] * 3), delays)
    assert len(cases) == 16
    assert {a[1] for a in asked} == {244}
    assert {a[4] for a in asked} == {6}
    large = [case for case in cases if case.packet_bytes == 251]
    # The cable's wait for a scan (5 ms of 25) is left out: 20 ms of radio, 20 ms of the rest, 0 to 10 ms of waiting.
    for case in large:
        assert (case.rate_hz, case.skipped) == (100, 0.0)
        assert case.median_ms == pytest.approx(45.0, abs=0.3)
        assert case.most_ms == pytest.approx(49.5, abs=0.3)
        assert case.radio_ms == pytest.approx(20.0)
    small = [case for case in cases if case.packet_bytes == 27]
    assert all(case.rate_hz == 25 and case.skipped == pytest.approx(0.25) for case in small)


def test_the_modelled_radio_gives_what_is_asked_at_30_ms_and_small_packets_are_slower():
    cases = {(c.interval_ms, c.packet_bytes, c.loss): c for c in radio_cases(measured([18.0] * 3), notification_delays)}
    assert cases[30.0, 251, 0.0].rate_hz == 100
    # 14.4 ms of the rest, about 20 ms of radio, 5 ms of waiting for a scan, in the middle.
    assert cases[30.0, 251, 0.0].median_ms == pytest.approx(39.0, abs=3.0)
    for interval_ms in (15.0, 30.0, 48.75):
        for loss in (0.0, 0.05):
            assert cases[interval_ms, 27, loss].median_ms > cases[interval_ms, 251, loss].median_ms
        assert cases[interval_ms, 251, 0.05].most_ms > cases[interval_ms, 251, 0.0].most_ms
    by_interval = [cases[ms, 251, 0.0].median_ms for ms in (15.0, 30.0, 48.75)]
    assert by_interval == sorted(by_interval)


def test_the_feet_message_is_quick_enough_over_short_packets():
    cases = {(c.interval_ms, c.loss): c for c in feet_cases(measured([18.0] * 3), notification_delays)}
    for interval_ms in (15.0, 30.0, 48.75, 60.0):
        case = cases[interval_ms, 0.0]
        assert (case.message, case.packet_bytes, case.rate_hz) == ("feet", 27, 100)
        assert case.skipped == 0.0 or interval_ms > 30.0
    assert cases[30.0, 0.0].median_ms <= 45.0


def test_figures_say_whether_they_are_what_is_asked():
    settings = SoundSettings()
    assert figures_of(measured(), settings, [])["ok"]
    assert figures_of(measured(), settings, [])["ms"]["total"] == {"median": 20.0, "95 %": 29.0}
    assert not figures_of(measured([31.0] * 3), settings, [])["ok"]
    assert not figures_of(measured([10.0] * 18 + [50.0] * 2), settings, [])["ok"]

    def slow(sent_s, *_):
        return sent_s + 0.1

    assert not figures_of(measured(), settings, radio_cases(measured(), slow))["ok"]


def test_the_words_count_rule_path_and_headset_together():
    toes, headset, nobody = tone_words(15.0, Bands(dwell_swing_s=0.03, dwell_trail_s=0.3))
    assert "toes tone comes 45 ms after" in toes
    assert "trail-side tone 315 ms after" in toes
    assert "about 100 to 250 ms (from memory)" in headset
    assert "145 to 295 ms" in headset
    assert "415 to 565 ms" in headset
    assert "A wired earpiece or a small speaker with a cable is better." in headset
    assert nobody.startswith("Nobody reacts")


def test_on_the_firmware_every_step_is_heard_and_the_parts_add_up(groundtone):
    card = "null" if missing_tools() else "pulse"
    said = groundtone("latency", "--steps", 6, "--card", card, "--json")
    figures = json.loads(said.out)
    assert figures["steps"] == 6
    assert figures["steps without a sound within 150 ms"] <= 2  # a busy machine may swallow one
    assert figures["frames"] > 100
    assert figures["buffer, ms"] == 10
    for name in STAGES:
        assert figures["ms"][name]["median"] > 0.0
    assert sum(figures["ms"][name]["median"] for name in STAGES) < 3 * figures["ms"]["total"]["95 %"]
    assert figures["radio, modelled"] == []
    assert said.code == (0 if figures["ok"] else 1)
    assert "monitor of a null sink" in figures["sample"] or "null backend" in figures["sample"]
