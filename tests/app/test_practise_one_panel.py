"""`groundtone practise --panel` as typed on the first evening, on the simulated mat; and its recording looked at."""

import json

import pytest
from sound_in import part_in, read, stretches


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path


@pytest.mark.parametrize("panel", ["left", "right"])
def test_the_toes_are_heard_and_the_recording_is_understood(groundtone, home, panel):
    to_twin = ("--twin", "2", "--fast", "--layout", "starter-10x3")
    said = groundtone(
        "practise", "--no-wait", "--no-echo", *to_twin, "--panel", panel, "--seconds", "14.5", "--out", home / "out"
    )
    assert (said.code, said.err) == (0, "")
    assert f"Only the {panel} panel is there: stand on it with that foot" in said.out
    assert "No swing was seen." in said.out
    assert "; 0 frames missed.\n" in said.out
    samples = read(home / "out" / "tones.wav")
    cue = [span for span in stretches(samples) if part_in(samples, *span, 1240, 1400) > 0.9]
    # The second rock reaches the toes 0.52 of 5 s after its begin at 8.4 s; the first one made ready only.
    assert cue
    assert all(10.0 < begin < end < 12.2 for begin, end in cue)
    assert not (home / "out" / "lanes.png").exists()

    looked = groundtone("review", "last")
    assert (looked.code, looked.err) == (0, "")
    sentences = " ".join(looked.out.split())
    assert sentences.count("one panel alone has no lead share and no swings") == 1
    assert f"Only the {panel} panel was there" in sentences
    assert "No swing was found" not in sentences
    plain = json.loads(groundtone("review", "last", "--json").out)
    assert plain["swings"] == []
    assert plain["simulated"] is True
    assert groundtone("compare", "last:1", "last:1").code == 0
    assert groundtone("export", "last", "--to", home / "csv", "--csv", "--parquet").code == 0
    names, *rows = (home / "csv" / "frames.csv").read_text().splitlines()
    share = names.split(",").index("lead_share")
    assert {row.split(",")[share] for row in rows} == {""}
    assert groundtone("library", "rebuild").code == 0


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (("--panel", "left", "--twin", "1", "--fast", "--block", "test"), "those need both panels: leave --block out."),
        (("--panel", "left", "--twin", "1", "--port", "/dev/x"), "give one of them."),
        (("--panel", "left", "--fast"), "name --twin as well."),
        (("--panel", "left", "--twin", "no.json"), "'no.json' is neither."),
        (("--twin", "1", "--layout", "mine"), "layout 'mine' is not known here"),
        (("--panel", "middle"), "is not one of 'left', 'right'."),
    ],
)
def test_what_will_not_do_is_said_in_a_sentence(groundtone, home, more, sentence):
    said = groundtone("practise", *more)
    assert said.code == 2
    assert sentence in said.err
