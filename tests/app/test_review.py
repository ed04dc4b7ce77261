"""A recorded session through the commands: review, strike, compare, export, as somebody types them."""

import csv
import json

import ezc3d
import numpy as np
import pytest

from groundtone.app.command import main
from groundtone.calibration.force_curve import typical_curves
from groundtone.cue.bands import Bands
from groundtone.cue.personal import Personal, write_personal
from groundtone.link.base import Stamped
from groundtone.mat.layout import LEFT
from groundtone.pressure.feet import Stance
from groundtone.record.channels import Channel
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append, begin
from groundtone.record.session import About, Block, Golfer
from groundtone.review.measured import film_of
from groundtone.review.session_review import review
from groundtone.review.settings import settings_of
from groundtone.review.strikes import read_entry, table_of
from groundtone.twin.inprocess import InProcessMat
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.twin.truth import truth
from groundtone.wire.messages import Hello

RATE_HZ = 100
# A lesson: four swings that hang back, a drill that nobody counts, four that come across.
SHARES = (0.42, 0.40, 0.44, 0.41, 0.60, 0.78, 0.80, 0.77, 0.79)


def lesson():
    styles = ["trail_hang" if share < 0.5 else "good" for share in SHARES]
    swings = tuple(SwingSpec(style, impact_share=share) for style, share in zip(styles, SHARES, strict=True))
    # A film without spread reads nearly right by the typical curve: no calibration is needed to see the change.
    mat = MatSpec.reference(seed=3, gain_sigma=0.05, shoe_ratio_span=0.02)
    return Scenario(mat, Session(GolferSpec(), swings, seed=3))


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """The lesson as a recording with its blocks; the blocks change between the swings' impacts."""
    scenario = lesson()
    path = tmp_path_factory.mktemp("lesson") / "session.mcap"
    mat = InProcessMat(scenario)
    spec = scenario.mat
    hello = Hello(1, (0, 2, 0), spec.uid, 16, 8, 14, 16, 1, 200, 0, 0, "twin", spec.layout, "mat")
    about = About(
        hello,
        settings_of(Stance(LEFT, 400.0, 0.0, (10.0, 10.0)), RATE_HZ, None, Bands()),
        Golfer("invented one"),
        Block(1, "baseline", "7 iron", "turf", 140.0, False),
        simulated=True,
    )
    recorder = begin(path, about)
    blocks = [Block(2, "drill", "7 iron", "turf", 140.0, True), Block(3, "test", "7 iron", "turf", 140.0, False)]
    impacts = [swing.impact_s for swing in truth(scenario).swings]
    begins = [impacts[3] + 2.5, impacts[4] + 2.5]
    for frame in mat.frames(RATE_HZ):
        t_s = frame.t_us * 1e-6
        if begins and t_s >= begins[0]:
            begins.pop(0)
            block = blocks.pop(0)
            recorder.block(Block(**{**vars(block), "device_us": frame.t_us}))
        recorder.frame(Stamped(frame, frame.t_us, t_s, 0.0, 0))
        if frame.seq % 200 == 0:
            recorder.pump()
    recorder.close()
    return path


@pytest.fixture
def session(recorded, tmp_path, monkeypatch):
    """A copy that a test may change, and an empty home."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    copy = tmp_path / "session.mcap"
    copy.write_bytes(recorded.read_bytes())
    return copy


def run(capsys, *words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    out = capsys.readouterr()
    return ended.value.code, out.out, out.err


def tell(session, *entries):
    """Strikes of the swings in order, as a recording under way would hold them."""
    impacts = [swing.impact_s for swing in truth(lesson()).swings]
    told = [(Channel.STRIKE, table_of(read_entry(e), t)) for e, t in zip(entries, impacts, strict=False) if e]
    append(session, told)


def test_review_shows_every_swing_in_its_block(session, capsys):
    code, out, _ = run(capsys, "review", session, "--json")
    assert code == 0
    seen = json.loads(out)
    assert [swing["block"] for swing in seen["swings"]] == [1, 1, 1, 1, 2, 3, 3, 3, 3]
    measured = [swing["measures"]["share_impact"]["value"] for swing in seen["swings"]]
    assert measured == pytest.approx(SHARES, abs=0.05)
    assert any("without a profile" in doubt for doubt in seen["doubts"])
    names = {finding["name"] for finding in seen["swings"][0]["findings"]}
    assert "trail" in names
    assert all(swing["measures"]["stepped_s"]["reason"] for swing in seen["swings"])
    share = seen["swings"][0]["measures"]["share_impact"]
    # 95 % of a normal distribution: 1.96 standard deviations to both sides.
    assert (share["high"] - share["value"]) / share["u"] == pytest.approx(1.96, abs=0.005)
    assert (share["value"] - share["low"]) / share["u"] == pytest.approx(1.96, abs=0.005)
    events = [event for swing in seen["swings"] for event in swing["events"].values()]
    assert {"setup", "takeaway", "impact"} <= set(seen["swings"][0]["events"])
    assert all(event["doubt_s"] >= 0.0 for event in events)


def test_the_lesson_ends_with_a_comparison_that_states_the_true_change(session, capsys):
    tell(session, "4f", "5f", "6f", "5t", "5c", "5c", "5c", "5c", "6c")
    code, out, _ = run(capsys, "compare", session, "--json")
    assert code == 0
    told = json.loads(out)
    share = next(change for change in told["changes"] if change["measure"] == "share_impact")
    true = np.median(SHARES[5:]) - np.median(SHARES[:4])
    assert share["low"] <= true <= share["high"]
    assert share["verdict"] == "these two blocks differ"
    assert "tempo" not in [change["measure"] for change in told["changes"]]
    assert told["inside"]["change"] == pytest.approx(3 / 4 - 2 / 4)
    text = run(capsys, "compare", f"{session}:baseline", f"{session}:3")[1]
    assert "Lead share at impact: these two blocks differ (" in text
    assert "too few told to say; 10 a side are the least" in text.replace("\n", " ")


def test_trail_side_is_no_concern_until_strikes_say_so(session, capsys):
    text = run(capsys, "review", session)[1]
    assert "no fault in every school" in text.replace("\n", " ")
    change = json.loads(run(capsys, "compare", session, "--json")[1])
    share = next(c for c in change["changes"] if c["measure"] == "share_impact")
    assert share["verdict"] == "these two blocks differ"
    coached = json.loads(run(capsys, "compare", session, "--json", "--fault", "trail")[1])
    assert next(c for c in coached["changes"] if c["measure"] == "share_impact")["verdict"] == "these two blocks differ"


def test_what_the_coach_calls_a_fault_of_this_pupil_holds_in_review_and_comparison(session, capsys):
    write_personal(Personal("invented one", faults=frozenset({"trail"})))
    change = json.loads(run(capsys, "compare", session, "--json")[1])
    assert next(c for c in change["changes"] if c["measure"] == "share_impact")["verdict"] == "these two blocks differ"
    seen = json.loads(run(capsys, "review", session, "--json")[1])
    trail = [f for swing in seen["swings"] for f in swing["findings"] if f["name"] == "trail"]
    assert trail
    assert all(f["concern"] and f["drill"] for f in trail)


def test_what_is_only_described_brings_no_drill_and_certainty_says_of_what(session, capsys):
    text = " ".join(run(capsys, "review", session)[1].split())
    described = text.split("hanging on the trail side (described, no fault in every school), ")[1].split(" Swing ")[0]
    assert "this reading outside its band with " in described
    assert "Drill:" not in described
    assert "Probable is what a reading shows; the bands themselves are common practice or invented." in text


def test_the_pair_after_strikes(session, capsys):
    tell(session, "", "5f", "", "", "", "", "", "5c")
    text = run(capsys, "review", session)[1].replace("\n", " ")
    assert (
        "The pair: Swing 8 (centre, clean) and swing 2 (centre, fat), side by side: an example and no evidence." in text
    )


def test_a_strike_can_be_taken_back_and_told_anew(session, capsys):
    assert "Swing 1: toe, thin." in run(capsys, "strike", session, "6t")[1]
    assert "Swing 3: centre." in run(capsys, "strike", session, "--swing", "3", "5")[1]
    assert "Swing 3: taken back" in run(capsys, "strike", session, "--undo")[1]
    assert "Swing 2: heel." in run(capsys, "strike", session, "4")[1]
    kept = [each.strike.field for each in review(open_recording(session)).swings]
    assert kept[:4] == [6, 4, None, None]


def test_export_gives_tables_and_platforms(session, tmp_path, capsys):
    to = tmp_path / "out"
    code, _, _ = run(capsys, "export", session, "--to", to, "--csv", "--parquet", "--c3d")
    assert code == 0
    with (to / "swings.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["block"] for row in rows][:5] == ["baseline"] * 4 + ["drill"]
    assert float(rows[0]["share_impact"]) == pytest.approx(SHARES[0], abs=0.05)
    read = ezc3d.c3d(str(to / "swing-001.c3d"), extract_forceplat_data=True)
    assert read["header"]["points"]["frame_rate"] == pytest.approx(RATE_HZ)
    total = sum(plate["force"][2] for plate in read["data"]["platform"])
    assert np.median(total) == pytest.approx(80 * 9.81, rel=0.25)  # by the typical film
    assert "impact" in read["parameters"]["EVENT"]["LABELS"]["value"]


def test_lanes_as_png_and_svg(session, tmp_path, capsys):
    for name, sign in (("a.png", b"\x89PNG"), ("a.svg", b"<?xml")):
        assert run(capsys, "review", session, "--lanes", tmp_path / name)[0] == 0
        assert (tmp_path / name).read_bytes().startswith(sign)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("review", "nothere"), "no file of that name"),
        (("review", "{session}", "--swing", "40"), "there is no swing 40"),
        (("review", "{session}", "--fault", "brilliance"), "there is no finding"),
        (("review", "{session}", "--lanes", "x.gif"), "drawn as .png or .svg"),
        (("compare", "{session}:1"), "name a second one"),
        (("compare", "{session}:9", "{session}:1"), "has no block 9"),
        (("compare", "{session}", "{session}:1"), "differ in club, lie or cues"),
        (("strike", "{session}", "zz"), "means nothing"),
        (("strike", "{session}", "--swing", "77", "5"), "there is no swing 77"),
        (("strike", "{session}", "--undo"), "nothing was told"),
        (("strike", "{session}"), "need a terminal"),
        (("review", "last"), "nothing has been recorded yet"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(session, capsys, words, sentence):
    code, _, err = run(capsys, *(word.format(session=session) for word in words))
    assert code == 2
    assert sentence in err.lower()
    assert len(err.strip().splitlines()) == 1


def test_a_typical_film_stands_in_without_a_profile(session):
    film, said = film_of(open_recording(session))
    assert film.curves.exponent == typical_curves(16, 8).exponent
    assert "guess" in said
