"""`groundtone page` as somebody types it: a recorded lesson of the twin, the library, and what can be wrong."""

import json
import subprocess

import pytest
from test_review import recorded  # noqa: F401 (a fixture)

from groundtone.record.channels import Channel
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.review.library_reader import lessons_of
from groundtone.review.session_review import review
from groundtone.review.strikes import read_entry, table_of


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def text_of(path):
    raw = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout
    return " ".join(raw.replace("\u00a0", " ").split())


def test_a_lesson_becomes_a_page_with_before_and_after(recorded, home, tmp_path, groundtone):  # noqa: F811
    done = groundtone("page", recorded, "--out", tmp_path / "out", "--json", "--fault", "trail", "--units", "yards")
    assert done.code == 0, done.err
    pdf, numbers = (next((tmp_path / "out").glob(f"*.{ending}")) for ending in ("pdf", "json"))
    text, told = text_of(pdf), json.loads(numbers.read_text("utf-8"))
    assert told["swings"] == {"before": 4, "after": 4, "drill": 1, "only": 0}
    assert told["finding"] == "trail"
    assert told["simulated"] is True
    (seen,) = told["sessions"]
    assert "golfer" not in seen
    assert len(seen["swings"]) == 9
    measured = [each for swing in seen["swings"] for each in swing["measures"].values() if each["value"] is not None]
    assert all(each["low"] <= each["value"] <= each["high"] for each in measured)
    assert "Recorded on the simulated mat" in text
    assert "In 4 of 4 swings too little of your pressure had come to the lead foot at impact." in text
    assert "You practised 1 swing with the tone." in text
    assert "Walk after it" in text
    assert "The mat was not calibrated" in text
    assert "153 yd" in text
    before, after = (told["figures"][f"share_impact.{side}"]["value"] for side in ("before", "after"))
    # The twin hung back with 0.40 to 0.44 and came across with 0.77 to 0.80.
    assert before == pytest.approx(0.415, abs=0.05)
    assert after == pytest.approx(0.785, abs=0.05)
    assert "recorded without a profile" in " ".join(done.out.split())


def test_a_golfer_s_last_lesson_is_in_the_library(recorded, home, tmp_path, groundtone):  # noqa: F811
    copy = tmp_path / "told.mcap"
    copy.write_bytes(recorded.read_bytes())
    at = [each.when_s for each in review(open_recording(copy)).swings]
    told = ["4 t", "4 t", "4 t", "5 c", "5 c", "5 c", "5 c", "5 c", "6 c"]
    append(copy, [(Channel.STRIKE, table_of(read_entry(entry), t)) for entry, t in zip(told, at, strict=True)])
    assert groundtone("library", "add", "Ann", "--recording", copy).code == 0
    done = groundtone("page", "--golfer", "Ann", "--out", tmp_path / "out", "--without", "picture", "--without", "card")
    assert done.code == 0, done.err
    assert sorted(path.suffix for path in (tmp_path / "out").iterdir()) == [".html", ".pdf"]
    text = text_of(next((tmp_path / "out").glob("page-Ann-*.pdf")))
    assert "before: 1 of 4 inside the circle" in text
    assert "after: 3 of 4 inside the circle" in text
    assert "Contact before: 1 clean, 3 thin." in text
    # The progress reads the same swings out of the library without the recording.
    with Library(home) as library:
        (lesson,) = lessons_of(library, "Ann")
    seen = review(open_recording(copy))
    assert lesson.simulated
    for kept, block in zip(lesson.blocks, seen.blocks(), strict=True):
        assert (kept.role, kept.club, kept.lie, kept.usual_m, kept.cues) == (
            block.role, block.club, block.lie, block.usual_m, block.cues,
        )  # fmt: skip
        for a, b in zip(kept.swings, block.swings, strict=True):
            assert (a.number, a.kind, a.strike) == (b.number, b.kind, b.strike)
            assert a.values == pytest.approx(b.values, nan_ok=True)
            assert all(a.doubts[name] == pytest.approx(b.doubts[name]) for name in a.doubts)


def test_an_example_needs_no_mat_and_says_that_it_is_invented(home, tmp_path, groundtone):
    done = groundtone("page", "--example", "--language", "de", "--without", "picture", "--without", "card",
                      "--out", tmp_path, "--name", "Ärmel & <Söhne>")  # fmt: skip
    assert done.code == 0, done.err
    html = next(tmp_path.glob("*.html"))
    assert html.name.startswith("page-Ärmel-Söhne-")
    assert "Ärmel &amp; &lt;Söhne&gt;" in html.read_text("utf-8")
    assert "Erfundenes Beispiel" in " ".join(done.out.split())


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--golfer", "Nobody"], "there is no golfer 'Nobody' in the library"),
        ([], "nothing has been recorded yet"),
        (["nothing.mcap"], "cannot be read"),
        (["--example", "last"], "--example is an invented lesson"),
        (["--example", "--units", "feet"], "'feet' is no unit"),
        (["--example", "--without", "moon"], "no part 'moon'"),
        (["--example", "--drill", "juggle"], "no drill 'juggle'"),
        (["--example", "--fault", "elbows"], "no finding 'elbows'"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(home, groundtone, arguments, sentence):
    done = groundtone("page", *arguments)
    assert done.code == 2
    assert sentence.lower() in " ".join(done.err.split()).lower()


def test_another_golfer_s_recording_is_refused(recorded, home, groundtone):  # noqa: F811
    done = groundtone("page", recorded, "--golfer", "Ben")
    assert done.code == 2
    assert "is a recording of 'invented one' and not of 'Ben'" in " ".join(done.err.split())


def test_a_folder_that_cannot_be_written(home, tmp_path, groundtone):
    (tmp_path / "file").write_text("here first")
    done = groundtone(
        "page", "--example", "--without", "picture", "--without", "card", "--out", tmp_path / "file" / "x"
    )
    assert done.code == 2
    assert "choose another folder with --out" in " ".join(done.err.split())
    assert (tmp_path / "file").read_text() == "here first"
